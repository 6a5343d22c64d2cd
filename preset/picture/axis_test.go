package picture

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTicksAreRound(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		wanted    int
		want      []float64
	}{
		{-20, 540, 12, []float64{0, 50, 100, 150, 200, 250, 300, 350, 400, 450, 500}},
		{0, 1, 5, []float64{0, 0.2, 0.4, 0.6, 0.8, 1}},
		{-0.04, 4000, 12, []float64{0, 500, 1000, 1500, 2000, 2500, 3000, 3500, 4000}},
	} {
		got := axis{low: c.low, high: c.high}.ticks(c.wanted)
		require.InDeltaSlice(t, c.want, got, 1e-9)
	}
}

func TestTicksEndWhereNumbersStandStill(t *testing.T) {
	for _, a := range []axis{{low: 1e17, high: 1e17 + 100}, {low: 5, high: 5}, {low: math.Inf(-1), high: 3}, {low: math.NaN(), high: 1}} {
		require.LessOrEqual(t, len(a.ticks(12)), 48)
	}
}

func TestValuesOffTheAxisStopAtItsEnds(t *testing.T) {
	a := axis{low: -60, high: 0, start: 300, end: 60} // upwards
	require.Equal(t, 60.0, a.inside(12))
	require.Equal(t, 300.0, a.inside(-100))
	require.Equal(t, 180.0, a.inside(-30))
	require.Equal(t, 180.0, a.at(-30))
}

// On a logarithmic axis from 10 to 1000, 100 lies in the middle.
func TestLogarithmicAxes(t *testing.T) {
	a := axis{low: 10, high: 1000, start: 0, end: 200, log: true}
	require.InDelta(t, 100, a.at(100), 1e-9)
	require.InDelta(t, 0, a.at(10), 1e-9)
	s := hertz(50, 16000)
	require.Equal(t, []float64{50, 100, 200, 500, 1000, 2000, 5000, 10000}, s.ticks)
	require.Equal(t, "500", s.label(500))
	require.Equal(t, "10k", s.label(10000))
}

func TestNumbersAreWrittenForPeople(t *testing.T) {
	require.Equal(t, "−7.0", fixed(-7, 1))
	require.Equal(t, "0.0", fixed(-0.04, 1))
	require.Equal(t, "−0.05", label(-0.05))
	require.Equal(t, "0.3", label(0.1+0.2))
}

func TestNumbersAreWrittenForPixels(t *testing.T) {
	for v, want := range map[float64]string{
		1: "1", 0.125: "0.13", -3.14159: "-3.14", 1e9: "1000000000",
		math.Inf(1): "0", math.Inf(-1): "0",
	} {
		require.Equal(t, want, number(v))
	}
	require.Equal(t, "0", number(math.NaN()))
}

func TestSpansKnowOnlyNumbers(t *testing.T) {
	s, ok := spanOf([]float64{math.NaN(), 3, math.Inf(1), -2})
	require.True(t, ok)
	require.Equal(t, span{-2, 3}, s)
	require.Equal(t, span{-5, 5}, s.widened(5))
	_, ok = spanOf([]float64{math.NaN()})
	require.False(t, ok)
}
