package wavfile

import (
	"bytes"
	"encoding/binary"
	"io"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// room makes a block for frames of all channels.
func room(channels, frames int) [][]float64 {
	block := make([][]float64, channels)
	for c := range block {
		block[c] = make([]float64, frames)
	}
	return block
}

// streamBytes reads a file in blocks of that many frames and puts them together.
// With an error it gives what had been read before.
func streamBytes(file []byte, perBlock int) (*Take, error) {
	s, err := Open("t.wav", bytes.NewReader(file), int64(len(file)))
	if err != nil {
		return nil, err
	}
	take := &Take{Rate: s.Rate, Encoding: s.Encoding, StartSample: s.StartSample, Warnings: s.Warnings, Channels: make([][]float64, s.Channels)}
	for block := room(s.Channels, perBlock); ; {
		n, err := s.Next(block)
		for c := range block {
			take.Channels[c] = append(take.Channels[c], block[c][:n]...)
		}
		switch {
		case err == io.EOF:
			return take, nil
		case err != nil:
			return take, err
		}
	}
}

func TestWhatIsKnownBeforeTheFirstSample(t *testing.T) {
	file := riff(bext(77), piece("fmt ", unhex(t, extensibleBody)), piece("data", make([]byte, 8*5+3)))
	s, err := Open("t.wav", bytes.NewReader(file), int64(len(file)))
	require.NoError(t, err)
	require.EqualValues(t, 48000, s.Rate)
	require.Equal(t, 2, s.Channels)
	require.EqualValues(t, 5, s.Frames)
	require.Equal(t, Encoding{Bits: 32, ValidBits: 24}, s.Encoding)
	require.EqualValues(t, 77, *s.StartSample)
	require.Equal(t, []string{"the sound ends within a frame: its last 3 bytes were dropped"}, s.Warnings)
}

func TestAStreamEndsWithAShortBlockAndThenEOF(t *testing.T) {
	file := riff(mono16, sound4)
	s, err := Open("t.wav", bytes.NewReader(file), int64(len(file)))
	require.NoError(t, err)
	block := room(1, 3)
	n, err := s.Next(block)
	require.NoError(t, err)
	require.Equal(t, want4[:3], block[0][:n])
	n, err = s.Next(block)
	require.NoError(t, err)
	require.Equal(t, want4[3:], block[0][:n])
	for range 2 {
		n, err = s.Next(block)
		require.Zero(t, n)
		require.Equal(t, io.EOF, err, "as io.Reader, not wrapped")
	}
}

// blockSizes are one frame, a few, just all of want4, and more than the file has.
var blockSizes = []int{1, 3, 4, 1000}

func TestAStreamGivesWhatReadGives(t *testing.T) {
	for _, c := range readableTakes() {
		for _, size := range blockSizes {
			whole, err := readBytes(c.file)
			require.NoError(t, err, c.name)
			streamed, err := streamBytes(c.file, size)
			require.NoError(t, err, c.name)
			require.Equal(t, whole, streamed, c.name)
		}
	}
	for _, c := range brokenTakes(t) {
		for _, size := range blockSizes {
			_, err := streamBytes(c.file, size)
			_, want := readBytes(c.file)
			require.Equal(t, want, err, c.name)
		}
	}
}

// Two channels of 30,000 frames: several fillings of the room for raw bytes. In
// time the first sample that is no number is that of channel 2, in the order of
// channels that of channel 1.
func TestASampleThatIsNoNumberIsRefusedWhereItStands(t *testing.T) {
	const frames, bad = 30_000, 20_000
	sound := make([]float32, 2*frames)
	for i := range sound {
		sound[i] = float32(i) / (2 * frames)
	}
	sound[2*bad+1] = float32(math.Inf(1))
	sound[2*(bad+1)] = float32(math.NaN())
	file := riff(formatChunk(tagFloat, 2, 48000, 32), float32Chunk(sound...))
	for _, perBlock := range []int{1, 7, bad, bad + 1, bad + 2, frames} {
		take, err := streamBytes(file, perBlock)
		var wrong *FormatError
		require.ErrorAs(t, err, &wrong)
		// 12 + 8 + 16 + 8 bytes of headers; 20000 frames at 48 kHz are 0.41667 s
		require.EqualError(t, err, "t.wav: at byte 160044: sample 20001 of channel 2 (at 0.417 s) is +Inf, which is no sound; export the file again")
		require.Equal(t, bad, take.Frames(), "all that comes before is read, in blocks of %d", perBlock)
		for i := range bad {
			if take.Channels[0][i] != float64(sound[2*i]) || take.Channels[1][i] != float64(sound[2*i+1]) {
				require.Failf(t, "wrong sample", "frame %d in blocks of %d", i, perBlock)
			}
		}
	}
	s, err := Open("t.wav", bytes.NewReader(file), int64(len(file)))
	require.NoError(t, err)
	_, first := s.Next(room(2, frames))
	n, second := s.Next(room(2, frames))
	require.Zero(t, n, "a bad sample is not passed over")
	require.Equal(t, first, second)
}

func TestABlockOfTheWrongShapeReadsNothing(t *testing.T) {
	file := riff(formatChunk(tagPCM, 2, 48000, 16), sound4)
	s, err := Open("t.wav", bytes.NewReader(file), int64(len(file)))
	require.NoError(t, err)
	for _, c := range []struct {
		name  string
		block [][]float64
		want  string
	}{
		{"no channels", nil, "t.wav: reading 2 channels into a block of 0"},
		{"too few", room(1, 4), "reading 2 channels into a block of 1"},
		{"too many", room(3, 4), "reading 2 channels into a block of 3"},
		{"no room", room(2, 0), "room for 0 samples of channel 1"},
		{"unlike rooms", [][]float64{{0}, {0, 0}}, "room for 2 samples of channel 2 and 1 of channel 1"},
	} {
		n, err := s.Next(c.block)
		require.Zero(t, n, c.name)
		require.ErrorContains(t, err, c.want, c.name)
	}
	block := room(2, 4)
	n, err := s.Next(block)
	require.NoError(t, err)
	require.Equal(t, [][]float64{{0, -1}, {0.5, 32767.0 / 32768}}, [][]float64{block[0][:n], block[1][:n]})
}

// tripping is a disk that fails once in the sound.
type tripping struct {
	io.ReaderAt
	tripped bool
}

func (d *tripping) ReadAt(b []byte, at int64) (int, error) {
	if at >= 44 && !d.tripped {
		d.tripped = true
		return 0, errDisk
	}
	return d.ReaderAt.ReadAt(b, at)
}

func TestAfterAFailureOfTheDiskTheStreamGoesOnWhereItWas(t *testing.T) {
	file := riff(mono16, sound4)
	s, err := Open("t.wav", &tripping{ReaderAt: bytes.NewReader(file)}, int64(len(file)))
	require.NoError(t, err)
	block := room(1, 4)
	n, err := s.Next(block)
	require.Zero(t, n)
	require.ErrorIs(t, err, errDisk)
	n, err = s.Next(block)
	require.NoError(t, err)
	require.Equal(t, want4, block[0][:n])
}

// Whatever comes in, a stream in blocks of any size says and gives what Read does,
// and before a sample that is no number it gives only numbers.
func FuzzStreamAndReadAgree(f *testing.F) {
	for i, c := range readableTakes() {
		if len(c.file) < 1000 {
			f.Add(c.file, uint8(i))
		}
	}
	f.Add(riff(formatChunk(tagFloat, 2, 48000, 32), float32Chunk(0, 0, 0, float32(math.NaN()))), uint8(1))
	f.Add(riff(formatChunk(tagFloat, 1, 8000, 64), piece("data", binary.LittleEndian.AppendUint64(make([]byte, 24), math.MaxUint64))), uint8(2))
	f.Fuzz(func(t *testing.T, file []byte, perBlock uint8) {
		whole, wrong := readBytes(file)
		streamed, err := streamBytes(file, int(perBlock)+1)
		require.Equal(t, wrong, err)
		if wrong == nil {
			require.Equal(t, whole, streamed)
		} else if streamed != nil {
			for _, channel := range streamed.Channels {
				require.Negative(t, firstNotFinite(channel))
			}
		}
	})
}
