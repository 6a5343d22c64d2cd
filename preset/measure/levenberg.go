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
	l := newLines(len(x), p.length)
	lambda := 1e-3
	for range rounds {
		if !p.differentiate(s.x, r, l) {
			return s
		}
		s.normal = l.normal
		before := s.cost
		var ok bool
		lambda, ok = p.descend(&s, r, l, lambda)
		if !ok || before-s.cost <= enough*before {
			return s
		}
	}
	return s
}

// lines are a linear picture of a problem: the columns of J, JᵀJ and Jᵀr.
type lines struct {
	columns [][]float64
	normal  *mat.SymDense
	slope   []float64
}

func newLines(parameters, length int) *lines {
	l := &lines{normal: mat.NewSymDense(parameters, nil), slope: make([]float64, parameters)}
	for range parameters {
		l.columns = append(l.columns, make([]float64, length))
	}
	return l
}

// differentiate draws the lines at x, where the residuals are r, by difference
// quotients.
func (p problem) differentiate(x, r []float64, l *lines) bool {
	moved := slices.Clone(x)
	for i, c := range l.columns {
		h := p.step[i]
		if x[i]+h > p.high[i] {
			h = -h
		}
		moved[i] = x[i] + h
		if !p.residuals(moved, c) {
			return false
		}
		moved[i] = x[i]
		for t := range c {
			c[t] = (c[t] - r[t]) / h
		}
	}
	l.multiply(r)
	return true
}

// multiply fills in JᵀJ and Jᵀr.
func (l *lines) multiply(r []float64) {
	for i, c := range l.columns {
		l.slope[i] = dot(c, r)
		for j := i; j < len(l.columns); j++ {
			l.normal.SetSym(i, j, dot(c, l.columns[j]))
		}
	}
}

// and is both pictures in one.
func (l *lines) and(m *lines, r []float64) *lines {
	both := &lines{columns: slices.Concat(l.columns, m.columns)}
	n := len(both.columns)
	both.normal, both.slope = mat.NewSymDense(n, nil), slices.Concat(l.slope, m.slope)
	for i := range n {
		for j := i; j < n; j++ {
			if j < len(l.columns) {
				both.normal.SetSym(i, j, l.normal.At(i, j))
			} else {
				both.normal.SetSym(i, j, dot(both.columns[i], both.columns[j]))
			}
		}
	}
	return both
}

// and is a problem in the parameters of both. It has limits, but no residuals.
func (p problem) and(q problem) problem {
	return problem{
		length: p.length, step: slices.Concat(p.step, q.step),
		low: slices.Concat(p.low, q.low), high: slices.Concat(p.high, q.high),
	}
}

// descend looks for a λ whose step makes the sum smaller, takes the step, and
// gives back the λ to begin the next one with.
func (p problem) descend(s *solution, r []float64, l *lines, lambda float64) (float64, bool) {
	trial := make([]float64, p.length)
	for range 8 {
		next, ok := p.damped(s.x, l, lambda)
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
func (p problem) damped(x []float64, l *lines, lambda float64) ([]float64, bool) {
	n := len(x)
	scale := make([]float64, n)
	for i := range n {
		held := x[i] <= p.low[i] && l.slope[i] > 0 || x[i] >= p.high[i] && l.slope[i] < 0
		if d := l.normal.At(i, i); d > 0 && !held {
			scale[i] = 1 / math.Sqrt(d)
		}
	}
	a, b := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i := range n {
		for j := i + 1; j < n; j++ {
			a.SetSym(i, j, l.normal.At(i, j)*scale[i]*scale[j])
		}
		a.SetSym(i, i, 1+lambda)
		b.SetVec(i, -l.slope[i]*scale[i])
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

// promise is what a full step from x would leave of the sum of squares now if the
// residuals were as straight as the lines.
func (p problem) promise(x []float64, now float64, l *lines) float64 {
	next, ok := p.damped(x, l, 1e-6)
	if !ok {
		return now
	}
	for i := range x {
		now += l.slope[i] * (next[i] - x[i]) // twice the way down the slope, once back up
	}
	return math.Max(now, 0)
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
