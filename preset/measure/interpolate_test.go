package measure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func sine(n int, cycles float64) []float64 {
	return filled(n, func(i int) float64 { return math.Sin(2 * math.Pi * cycles * float64(i)) })
}

// Up to three quarters of half the rate the kernel is flat to a few thousandths
// (a Kaiser window of β = 7 stops by about 70 dB, its edge is as wide as that).
func TestReadingBetweenSamples(t *testing.T) {
	for _, c := range []struct{ cycles, miss float64 }{{0.01, 2e-4}, {0.1, 2e-4}, {0.25, 3e-4}, {0.33, 5e-3}} {
		x := sine(400, c.cycles)
		for _, delay := range []float64{20, 20.001, 20.25, 20.5, 20.999, 33.7} {
			out, moving := make([]float64, 100), make([]float64, 100)
			k := kernelFor(delay)
			read(out, x, 200, delay, &k)
			readMoving(moving, x, 200, filled(100, func(int) float64 { return delay }), kernelTable())
			for i := range out {
				want := math.Sin(2 * math.Pi * c.cycles * (200 + float64(i) - delay))
				require.InDelta(t, want, out[i], c.miss, "%v cycles a sample, %v samples late", c.cycles, delay)
				require.InDelta(t, out[i], moving[i], 1e-5, "the table is as good as the kernel itself")
			}
		}
	}
}

func TestReadingAtASampleIsTheSample(t *testing.T) {
	x := noiseOf(100, 1)
	out := make([]float64, 20)
	k := kernelFor(30)
	read(out, x, 60, 30, &k)
	for i := range out {
		require.InDelta(t, x[30+i], out[i], 1e-12)
	}
}
