package fastlength

import (
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/dsp/fourier"
)

func TestFrom(t *testing.T) {
	for n, want := range map[int]int{-3: 1, 0: 1, 1: 1, 7: 8, 11: 12, 48_000: 48_000, 48_001: 48_600} {
		require.Equal(t, want, From(n), "from %d", n)
	}
	require.False(t, Is(0))
	require.False(t, Is(7))
	require.False(t, Is(1<<26*3), "14 factors: 4 thirteen times, then 3")
	require.True(t, Is(1<<24*3), "13 factors")
}

// 3^13 has 13 factors, 3^14 one too many: gonum panics on it, and so on nothing
// that is given here.
func TestWhatIsQuickCanBeTransformed(t *testing.T) {
	require.Equal(t, 1_594_323, From(1_594_323))
	require.Greater(t, From(4_782_969), 4_782_969)
	require.Panics(t, func() { fourier.NewFFT(4_782_969) })
	for _, n := range []int{1_594_323, From(4_782_969), From(3_177_001)} {
		require.NotPanics(t, func() { fourier.NewFFT(n) }, "%d", n)
	}
}
