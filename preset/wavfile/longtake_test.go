package wavfile

import (
	"bytes"
	"io"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"
)

// endless is a file that no disk need hold: a head, then one page over and over.
type endless struct{ head, page []byte }

func (e endless) ReadAt(b []byte, at int64) (int, error) {
	n := 0
	if at < int64(len(e.head)) {
		n = copy(b, e.head[at:])
	}
	for n < len(b) {
		n += copy(b[n:], e.page[(at+int64(n)-int64(len(e.head)))%int64(len(e.page)):])
	}
	return n, nil
}

// pageFrames is a prime, so that blocks and pages never fall together.
const pageFrames = 1009

// longTake is 24-bit stereo of that many frames, in RF64 where it must; its frame i
// is frame i mod pageFrames of noise(2, pageFrames).
func longTake(t testing.TB, rate int, frames int64) (e endless, size int64) {
	var page bytes.Buffer
	_, err := Write(&page, 48000, noise(2, pageFrames), PCM24)
	require.NoError(t, err)
	bytesOfSound := 6 * frames
	e.page = page.Bytes()[44:]
	if bytesOfSound < notTold-100 {
		e.head = header(rate, 2, int(frames), PCM24)
	} else {
		e.head = rf64("RF64", uint64(bytesOfSound), nil, formatChunk(tagPCM, 2, rate, 24), wideSize(piece("data", nil)))
	}
	return e, int64(len(e.head)) + bytesOfSound
}

func TestLongStreamsAreReadSampleBySample(t *testing.T) {
	const frames, perBlock = 200_000, 4801
	file, size := longTake(t, 48000, frames)
	s, err := Open("long.wav", file, size)
	require.NoError(t, err)
	require.Empty(t, s.Warnings)
	want := noise(2, pageFrames)
	first := 0
	for block := room(2, perBlock); ; {
		n, err := s.Next(block)
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		for c := range block {
			for i, v := range block[c][:n] {
				if v != want[c][(first+i)%pageFrames] {
					require.Failf(t, "wrong sample", "frame %d of channel %d", first+i, c+1)
				}
			}
		}
		first += n
	}
	require.Equal(t, frames, first)
}

// A day of stereo at 192 kHz: 24·3600·192000 frames of 6 bytes are 99.5 GB, far
// beyond what 32 bits can tell.
func TestTheEndOfADayIsReadFromAnRF64File(t *testing.T) {
	const frames = int64(24 * 3600 * 192_000)
	file, size := longTake(t, 192_000, frames)
	s, err := Open("day.wav", file, size)
	require.NoError(t, err)
	require.Equal(t, frames, s.Frames)
	require.Empty(t, s.Warnings)
	s.next = frames - 2
	block := room(2, 5)
	n, err := s.Next(block)
	require.NoError(t, err)
	require.Equal(t, 2, n)
	want := noise(2, pageFrames)
	for c := range block {
		for i := range n {
			require.Equal(t, want[c][(frames-2+int64(i))%pageFrames], block[c][i])
		}
	}
	_, err = s.Next(block)
	require.Equal(t, io.EOF, err)
}

func TestWhatNoMemoryHoldsIsLeftToTheStream(t *testing.T) {
	file, size := longTake(t, 48000, mostAtOnce+1)
	_, err := Read("years.wav", file, size)
	var unsupported *UnsupportedError
	require.ErrorAs(t, err, &unsupported)
	require.ErrorContains(t, err, "can be held in memory at once; export the part that matters")
	s, err := Open("years.wav", file, size)
	require.NoError(t, err)
	require.EqualValues(t, mostAtOnce+1, s.Frames)
}

func TestABlockIsReadWithoutAllocating(t *testing.T) {
	for _, c := range []struct{ tag, bits int }{{tagPCM, 8}, {tagPCM, 16}, {tagPCM, 24}, {tagPCM, 32}, {tagFloat, 32}, {tagFloat, 64}} {
		file := riff(formatChunk(c.tag, 2, 48000, c.bits), piece("data", make([]byte, 200_000*c.bits/8)))
		s, err := Open("t.wav", bytes.NewReader(file), int64(len(file)))
		require.NoError(t, err)
		block := room(2, 900)
		require.Zero(t, testing.AllocsPerRun(100, func() {
			if n, err := s.Next(block); n != 900 || err != nil {
				t.Errorf("%d frames, %v", n, err)
			}
		}), "%v", s.Encoding)
	}
}

// drain reads a long take to its end and tells how many bytes were allocated, and
// by how much the heap had grown where it was greatest.
func drain(t testing.TB, rate int, frames int64) (allocated, peak uint64) {
	file, size := longTake(t, rate, frames)
	runtime.GC()
	var before, now runtime.MemStats
	runtime.ReadMemStats(&before)
	s, err := Open("long.wav", file, size)
	require.NoError(t, err)
	block := room(2, 4096)
	read := int64(0)
	for k := 0; ; k++ {
		n, err := s.Next(block)
		read += int64(n)
		if k%1024 == 0 || err == io.EOF {
			runtime.ReadMemStats(&now)
			peak = max(peak, now.HeapAlloc-min(now.HeapAlloc, before.HeapAlloc))
		}
		if err == io.EOF {
			require.Equal(t, frames, read)
			return now.TotalAlloc - before.TotalAlloc, peak
		}
		if err != nil {
			require.NoError(t, err)
		}
	}
}

// What is allocated is the room for raw bytes (64 KiB) and for the block (2·4096·8
// bytes = 64 KiB), whatever the length; a few more for chunks and the runtime's own.
func TestMemoryDoesNotGrowWithLength(t *testing.T) {
	for _, seconds := range []int64{1, 60, 600} {
		allocated, peak := drain(t, 48000, seconds*48000)
		require.Less(t, allocated, uint64(160<<10), "%d s", seconds)
		require.Less(t, peak, uint64(160<<10), "%d s", seconds)
	}
}

// The file is made on the fly from a page that stays in the processor's cache, so
// this is what decoding costs, without a disk.
func BenchmarkStream(b *testing.B) {
	for _, c := range []struct {
		name          string
		rate, seconds int64
	}{
		{"1 minute at 48 kHz", 48_000, 60},
		{"10 minutes at 48 kHz", 48_000, 600},
		{"44 minutes at 192 kHz", 192_000, 44 * 60},
	} {
		b.Run(c.name, func(b *testing.B) {
			var allocated, peak uint64
			for b.Loop() {
				a, p := drain(b, int(c.rate), c.seconds*c.rate)
				allocated, peak = allocated+a, max(peak, p)
			}
			b.ReportMetric(6*float64(c.seconds*c.rate)*float64(b.N)/b.Elapsed().Seconds()/1e6, "MB/s_of_file")
			b.ReportMetric(float64(c.seconds)*float64(b.N)/b.Elapsed().Seconds(), "times_as_fast_as_it_sounds")
			b.ReportMetric(float64(allocated)/float64(b.N)/1024, "KiB_allocated")
			b.ReportMetric(float64(peak)/1024, "KiB_at_peak")
		})
	}
}
