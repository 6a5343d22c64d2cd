package measure

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// cost is the sum of squares that u leaves of the blocks.
func (s *spectra) cost(u *still, blocks []stretch) float64 {
	sc := newScratch(0, len(u.delay))
	sum := 0.0
	for _, b := range blocks {
		u.over(s, b, nil, sc)
		r := sc.rest[:2*(b.to-b.from)]
		sum += floats.Dot(r, r)
	}
	return sum
}

// weigh is the sum of squares that u leaves of the blocks, and how it changes with the
// dials.
func (s *spectra) weigh(u *still, dials []dial, blocks []stretch) (float64, *lines) {
	n := len(dials)
	sc := newScratch(n, len(u.delay))
	l := newLines(n, 0)
	sums := make([]float64, n*n)
	cost := 0.0
	for _, b := range blocks {
		u.over(s, b, dials, sc)
		size := 2 * (b.to - b.from)
		r := sc.rest[:size]
		cost += floats.Dot(r, r)
		for i := range n {
			row := sc.rows[i][:size]
			l.slope[i] += floats.Dot(row, r)
			for j := i; j < n; j++ {
				sums[i*n+j] += floats.Dot(row, sc.rows[j][:size])
			}
		}
	}
	for i := range n {
		for j := i; j < n; j++ {
			l.normal.SetSym(i, j, sums[i*n+j])
		}
	}
	return cost, l
}

// settled is a unit fitted to spectra.
type settled struct {
	unit   still
	cost   float64
	normal *mat.SymDense // JᵀJ of the unit's dials
	blocks []stretch
}

// fit turns the dials of u until what is left of the blocks is least, by the
// method of Levenberg and Marquardt.
func (s *spectra) fit(u still, blocks []stretch, rounds int, enough float64) settled {
	f := settled{unit: u.clone(), blocks: blocks}
	dials := f.unit.dials()
	var p problem
	x := make([]float64, len(dials))
	for i, d := range dials {
		x[i] = *d.value
		p.low, p.high = append(p.low, d.low), append(p.high, d.high)
	}
	p.clip(x)
	place(dials, x)
	lambda := 1e-3
	for range rounds {
		var l *lines
		f.cost, l = s.weigh(&f.unit, dials, blocks)
		f.normal = l.normal
		next, cost, damping, ok := s.descend(&f, dials, p, x, l, lambda)
		if !ok {
			place(dials, x)
			break
		}
		gain := f.cost - cost
		x, f.cost, lambda = next, cost, damping
		if gain <= enough*cost {
			break
		}
	}
	return f
}

func (s *spectra) descend(f *settled, dials []dial, p problem, x []float64, l *lines, lambda float64) ([]float64, float64, float64, bool) {
	for range 8 {
		if next, ok := p.damped(x, l, lambda); ok {
			place(dials, next)
			if cost := s.cost(&f.unit, f.blocks); cost < f.cost {
				return next, cost, math.Max(lambda/10, 1e-9), true
			}
		}
		lambda *= 8
	}
	return nil, 0, lambda, false
}

func place(dials []dial, x []float64) {
	for i, d := range dials {
		*d.value = x[i]
	}
}

// independent is how many bins of a transform without padding the blocks stand for.
func (s *spectra) independent(blocks []stretch) float64 {
	return float64(total(blocks)) * float64(s.length) / float64(s.n)
}

// gain is by how much more likely g is than f, as twice the logarithm of the
// ratio: the noise of either is what it leaves itself, and both are over the same
// blocks.
func (s *spectra) gain(f, g settled) float64 {
	return 2 * s.independent(f.blocks) * math.Log(f.cost/g.cost)
}

// covariance of the dials of f: what a complex bin leaves has the noise's power in
// two parts, and padding made more bins than there were samples.
func (s *spectra) covariance(f settled) *mat.SymDense {
	// Where the rest is larger than the noise taken for it, the noise was too small.
	spread := math.Max(1, f.cost/float64(total(f.blocks)))
	share := spread * float64(s.n) / float64(s.length) / 2
	return inverted(f.normal, share)
}

func total(blocks []stretch) int {
	n := 0
	for _, b := range blocks {
		n += b.to - b.from
	}
	return n
}

// inverted is factor·a⁻¹, solved with a's diagonal scaled to 1.
func inverted(a *mat.SymDense, factor float64) *mat.SymDense {
	n := a.SymmetricDim()
	scaled, scale := mat.NewSymDense(n, nil), make([]float64, n)
	for i := range n {
		scale[i] = 1 / math.Sqrt(math.Max(a.At(i, i), 1e-300))
	}
	for i := range n {
		for j := i; j < n; j++ {
			scaled.SetSym(i, j, a.At(i, j)*scale[i]*scale[j])
		}
		scaled.SetSym(i, i, 1+1e-9)
	}
	out := mat.NewSymDense(n, nil)
	var c mat.Cholesky
	if !c.Factorize(scaled) || c.InverseTo(out) != nil {
		return mat.NewSymDense(n, nil)
	}
	for i := range n {
		for j := i; j < n; j++ {
			out.SetSym(i, j, out.At(i, j)*scale[i]*scale[j]*factor)
		}
	}
	return out
}
