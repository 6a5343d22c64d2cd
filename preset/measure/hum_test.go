package measure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// humming is hum of a few harmonics in white noise.
func humming(base, level, noise float64) []float64 {
	x := noiseOf(3*quickRate, noise)
	for i := range x {
		at := float64(i) / quickRate
		x[i] += level * (math.Sin(2*math.Pi*base*at) + 0.4*math.Cos(2*math.Pi*3*base*at) + 0.2*math.Sin(2*math.Pi*7*base*at))
	}
	return x
}

// allBut tells what is quiet: everything but the samples from from to to.
func allBut(n, from, to int) []bool {
	q := make([]bool, n)
	for i := range q {
		q[i] = i < from || i >= to
	}
	return q
}

func TestHumIsFoundAndTakenOut(t *testing.T) {
	for _, base := range []float64{50, 49.93, 60, 60.11} {
		x := humming(base, 0.01, 1e-4)
		h, ok := findHum(x, quickRate, allBut(len(x), quickRate/2, 2*quickRate))
		require.True(t, ok, "%v Hz", base)
		require.InDelta(t, base, h.base, 0.01)
		require.InDelta(t, 0.5e-4*(1+0.16+0.04), h.power(), 1e-6, "half the squares of the amplitudes")
		left := meanSquare(h.takenFrom(x, quickRate))
		require.Less(t, left, 4e-8, "noise of 1e-8, and hum 40 dB below what it was at the most")
	}
}

func TestNoHumIsFoundWhereThereIsNone(t *testing.T) {
	for name, x := range map[string][]float64{
		"noise":   noiseOf(3*quickRate, 0.01),
		"silence": make([]float64, 3*quickRate),
		"55 Hz":   filled(3*quickRate, func(i int) float64 { return 0.01 * math.Sin(2*math.Pi*55*float64(i)/quickRate) }),
	} {
		_, ok := findHum(x, quickRate, allBut(len(x), 0, 0))
		require.False(t, ok, name)
	}
	x := humming(50, 0.01, 1e-4)
	_, ok := findHum(x, quickRate, allBut(len(x), 1000, len(x)))
	require.False(t, ok, "40 ms of quiet tell nothing")
}
