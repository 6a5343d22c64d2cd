package wavfile

import (
	"bytes"
	"io"
	"math"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestBlocksMakeTheSameFileAsTheWhole(t *testing.T) {
	sound := [][]float64{make([]float64, 1001), make([]float64, 1001)}
	for i := range sound[0] {
		sound[0][i], sound[1][i] = math.Sin(float64(i)), 2*math.Cos(float64(i))
	}
	for _, e := range []Encoding{PCM24, Float32} {
		for channels := 1; channels <= 2; channels++ { // one channel of 1001 samples of 3 bytes needs a pad
			var whole, pieces bytes.Buffer
			clipped, err := Write(&whole, 48000, sound[:channels], e)
			require.NoError(t, err)
			w, err := NewWriter(&pieces, 48000, channels, 1001, e)
			require.NoError(t, err)
			for from := 0; from < 1001; from += 300 {
				block := make([][]float64, channels)
				for c := range block {
					block[c] = sound[c][from:min(from+300, 1001)]
				}
				require.NoError(t, w.Write(block))
			}
			require.NoError(t, w.Close())
			require.Equal(t, whole.Bytes(), pieces.Bytes())
			require.Equal(t, clipped, w.Clipped)
		}
	}
}

func TestAFileHoldsWhatItAnnounced(t *testing.T) {
	begin := func() *Writer {
		w, err := NewWriter(io.Discard, 48000, 1, 10, PCM24)
		require.NoError(t, err)
		return w
	}
	block := [][]float64{make([]float64, 6)}
	w := begin()
	require.NoError(t, w.Write(block))
	require.ErrorContains(t, w.Close(), "6 samples, where 10 were announced")
	require.ErrorContains(t, w.Write(block), "where 10 were announced")
	require.ErrorContains(t, begin().Write([][]float64{{0}, {0}}), "a block of 2 channels into a file of 1")
	w = begin()
	require.NoError(t, w.Write(block))
	require.ErrorContains(t, w.Write([][]float64{{0, math.NaN()}}), "sample 8 of channel 1 is NaN")
	for _, frames := range []int64{-1, math.MaxUint32} {
		_, err := NewWriter(io.Discard, 48000, 1, frames, PCM24)
		require.ErrorContains(t, err, "fit into the 4 GiB")
	}
	w, err := NewWriter(&fullDisk{100}, 48000, 1, 100_000, PCM24)
	require.NoError(t, err)
	require.ErrorIs(t, w.Write([][]float64{make([]float64, 100_000)}), errFull)
}

// Ten minutes at 48 kHz are 86 MB of file; what is allocated on the way must not grow
// with it.
func TestTenMinutesAreWrittenInFlatMemory(t *testing.T) {
	const frames = 600 * 48000
	w, err := NewWriter(io.Discard, 48000, 1, frames, PCM24)
	require.NoError(t, err)
	block := [][]float64{make([]float64, 48000)}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	for range frames / 48000 {
		require.NoError(t, w.Write(block))
	}
	require.NoError(t, w.Close())
	runtime.ReadMemStats(&after)
	require.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(1<<20))
}
