package measure

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// problem is a sum of squares to be made small. Residuals fills r for the
// parameters x, all of one length, and reports false where x makes no sense.
type problem struct {
	residuals func(x, r []float64) bool
	length    int       // of r
	step      []float64 // of the difference quotient of each parameter
	low, high []float64 // limits of each parameter
}

// solution is where levenberg ended: the parameters, the sum of squares there,
// and JᵀJ of the last step, nil if there was none.
type solution struct {
	x      []float64
	cost   float64
	normal *mat.SymDense
}

// levenberg makes the sum of squares small by the method of Levenberg and
// Marquardt (J. SIAM 11(2), 1963): steps (JᵀJ + λ·diag JᵀJ)·δ = −Jᵀr, clipped to
// the limits, λ less after a step that helped and more after one that did not.
// It ends after so many rounds, or when a step gains less than the share enough.
func (p problem) levenberg(x []float64, rounds int, enough float64) solution {
	r := make([]float64, p.length)
	s := solution{x: slices.Clone(x), cost: math.Inf(1)}
	p.clip(s.x)
	if !p.residuals(s.x, r) {
		return s
	}
	s.cost = dot(r, r)
	columns := make([][]float64, len(x))
	for i := range columns {
		columns[i] = make([]float64, p.length)
	}
	lambda := 1e-3
	for range rounds {
		normal, slope, ok := p.linearise(s.x, r, columns)
		if !ok {
			return s
		}
		s.normal = normal
		before := s.cost
		lambda, ok = p.descend(&s, r, normal, slope, lambda)
		if !ok || before-s.cost <= enough*before {
			return s
		}
	}
	return s
}

// linearise is JᵀJ and Jᵀr at x, J by difference quotients.
func (p problem) linearise(x, r []float64, columns [][]float64) (*mat.SymDense, []float64, bool) {
	moved := slices.Clone(x)
	for i, c := range columns {
		h := p.step[i]
		if x[i]+h > p.high[i] {
			h = -h
		}
		moved[i] = x[i] + h
		if !p.residuals(moved, c) {
			return nil, nil, false
		}
		moved[i] = x[i]
		for t := range c {
			c[t] = (c[t] - r[t]) / h
		}
	}
	normal := mat.NewSymDense(len(x), nil)
	slope := make([]float64, len(x))
	for i, c := range columns {
		slope[i] = dot(c, r)
		for j := i; j < len(columns); j++ {
			normal.SetSym(i, j, dot(c, columns[j]))
		}
	}
	return normal, slope, true
}

// descend looks for a λ whose step makes the sum smaller, takes the step, and
// gives back the λ to begin the next one with.
func (p problem) descend(s *solution, r []float64, normal *mat.SymDense, slope []float64, lambda float64) (float64, bool) {
	trial := make([]float64, p.length)
	for range 8 {
		next, ok := p.damped(s.x, normal, slope, lambda)
		if ok && p.residuals(next, trial) {
			if cost := dot(trial, trial); cost < s.cost {
				s.x, s.cost = next, cost
				copy(r, trial)
				return math.Max(lambda/10, 1e-9), true
			}
		}
		lambda *= 8
	}
	return lambda, false
}

// damped is x after one step. A parameter at a limit that the slope pushes
// beyond it stays where it is. The equations are solved with the diagonal of JᵀJ
// scaled to 1, so that the units of the parameters don't matter.
func (p problem) damped(x []float64, normal *mat.SymDense, slope []float64, lambda float64) ([]float64, bool) {
	n := len(x)
	scale := make([]float64, n)
	for i := range n {
		held := x[i] <= p.low[i] && slope[i] > 0 || x[i] >= p.high[i] && slope[i] < 0
		if d := normal.At(i, i); d > 0 && !held {
			scale[i] = 1 / math.Sqrt(d)
		}
	}
	a, b := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i := range n {
		for j := i + 1; j < n; j++ {
			a.SetSym(i, j, normal.At(i, j)*scale[i]*scale[j])
		}
		a.SetSym(i, i, 1+lambda)
		b.SetVec(i, -slope[i]*scale[i])
	}
	var factor mat.Cholesky
	if !factor.Factorize(a) {
		return nil, false
	}
	var d mat.VecDense
	if err := factor.SolveVecTo(&d, b); err != nil {
		return nil, false
	}
	next := slices.Clone(x)
	for i := range next {
		next[i] += d.AtVec(i) * scale[i]
	}
	p.clip(next)
	return next, true
}

// promise is the sum of squares at x and what a full step from there would leave
// of it if the residuals were linear.
func (p problem) promise(x []float64) (now, after float64) {
	r := make([]float64, p.length)
	if !p.residuals(x, r) {
		return math.Inf(1), math.Inf(1)
	}
	columns := make([][]float64, len(x))
	for i := range columns {
		columns[i] = make([]float64, p.length)
	}
	now = dot(r, r)
	normal, slope, ok := p.linearise(x, r, columns)
	if !ok {
		return now, now
	}
	next, ok := p.damped(x, normal, slope, 1e-6)
	if !ok {
		return now, now
	}
	after = now
	for i := range x {
		after += slope[i] * (next[i] - x[i]) // −½·2 of the full step's gain
	}
	return now, math.Max(after, 0)
}

func (p problem) clip(x []float64) {
	for i := range x {
		x[i] = math.Max(p.low[i], math.Min(p.high[i], x[i]))
	}
}

func dot(a, b []float64) float64 {
	var s0, s1, s2, s3 float64
	i := 0
	for ; i+4 <= len(a); i += 4 {
		s0 += a[i] * b[i]
		s1 += a[i+1] * b[i+1]
		s2 += a[i+2] * b[i+2]
		s3 += a[i+3] * b[i+3]
	}
	for ; i < len(a); i++ {
		s0 += a[i] * b[i]
	}
	return s0 + s1 + s2 + s3
}
