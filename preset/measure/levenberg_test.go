package measure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// residualsOf makes a problem without limits worth speaking of.
func residualsOf(length, parameters int, f func(x, r []float64) bool) problem {
	p := problem{residuals: f, length: length}
	for range parameters {
		p.step, p.low, p.high = append(p.step, 1e-7), append(p.low, -1e6), append(p.high, 1e6)
	}
	return p
}

// Rosenbrock's valley as a sum of squares has its bottom, 0, at (1, 1)
// (Rosenbrock, Computer Journal 3(3), 1960).
func rosenbrock(x, r []float64) bool {
	r[0], r[1] = 10*(x[1]-x[0]*x[0]), 1-x[0]
	return true
}

func TestLevenbergFindsTheBottomOfACurvedValley(t *testing.T) {
	s := residualsOf(2, 2, rosenbrock).levenberg([]float64{-1.2, 1}, 60, 0)
	require.InDelta(t, 1, s.x[0], 1e-6)
	require.InDelta(t, 1, s.x[1], 1e-6)
	require.Less(t, s.cost, 1e-12)
}

func TestLevenbergSolvesALineInOneStep(t *testing.T) {
	// y = 3 − 2·t through five points: nothing is left.
	p := residualsOf(5, 2, func(x, r []float64) bool {
		for i := range r {
			at := float64(i)
			r[i] = x[0] + x[1]*at - (3 - 2*at)
		}
		return true
	})
	s := p.levenberg([]float64{0, 0}, 3, 0)
	require.InDelta(t, 3, s.x[0], 1e-5)
	require.InDelta(t, -2, s.x[1], 1e-5)
	require.InDelta(t, 5, s.normal.At(0, 0), 1e-5, "JᵀJ of a constant over five points")
	require.InDelta(t, 10, s.normal.At(0, 1), 1e-5, "0 + 1 + 2 + 3 + 4")
}

func TestLevenbergKeepsToTheLimits(t *testing.T) {
	p := residualsOf(2, 2, rosenbrock)
	p.high = []float64{0.5, 1e6}
	s := p.levenberg([]float64{-1.2, 1}, 60, 0)
	require.Equal(t, 0.5, s.x[0])
	require.InDelta(t, 0.25, s.x[1], 1e-6, "at x = 0.5 the valley runs at 0.5²")
}

func TestLevenbergStartsWithinTheLimits(t *testing.T) {
	p := residualsOf(1, 1, func(x, r []float64) bool {
		r[0] = x[0] - 5
		return true
	})
	p.low, p.high = []float64{0}, []float64{3}
	s := p.levenberg([]float64{99}, 5, 0)
	require.Equal(t, []float64{3}, s.x)
	require.InDelta(t, 4, s.cost, 1e-12, "(3−5)²")
}

func TestLevenbergIgnoresAParameterWithoutEffect(t *testing.T) {
	p := residualsOf(1, 2, func(x, r []float64) bool {
		r[0] = x[0] - 2
		return true
	})
	s := p.levenberg([]float64{0, 7}, 10, 0)
	require.InDelta(t, 2, s.x[0], 1e-6)
	require.Equal(t, 7.0, s.x[1])
}

func TestLevenbergStaysWhereNothingCanBePlayed(t *testing.T) {
	p := residualsOf(1, 1, func([]float64, []float64) bool { return false })
	s := p.levenberg([]float64{1}, 5, 0)
	require.Equal(t, []float64{1}, s.x)
	require.True(t, math.IsInf(s.cost, 1))
}

func TestPromiseOfAStraightProblemIsKept(t *testing.T) {
	p := residualsOf(3, 1, func(x, r []float64) bool {
		r[0], r[1], r[2] = x[0]-1, x[0]-2, x[0]-6
		return true
	})
	r := make([]float64, 3)
	p.residuals([]float64{0}, r)
	l := newLines(1, 3)
	require.True(t, p.differentiate([]float64{0}, r, l))
	// The mean, 3, leaves 4 + 1 + 9.
	require.InDelta(t, 14, p.promise([]float64{0}, dot(r, r), l), 1e-3)
}
