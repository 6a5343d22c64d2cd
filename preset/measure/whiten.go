package measure

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"echowright/preset/fastlength"
)

const ringOrder = 0.014 // s: how far back the predictor looks

// ringing is the filter that takes the ringing out of a note: the error filter
// 1, a1, a2, … of its linear predictor, by least squares over part from skip on,
// where the note rings freely. Noise is the mean square of what cannot be
// predicted in any case, and keeps the filter from amplifying it. Nil if part is
// too short to learn from.
func ringing(part []float64, rate, noise float64, skip int) []float64 {
	order := min(int(ringOrder*rate), (len(part)-skip)/2)
	if order < 2 {
		return nil
	}
	from := max(skip, order)
	normal := lagProducts(part, from, order)
	floor := noise*float64(len(part)-from) + 1e-7*normal.At(0, 0) + 1e-300
	right := mat.NewVecDense(order, nil)
	a := mat.NewSymDense(order, nil)
	for i := range order {
		right.SetVec(i, -normal.At(0, i+1))
		for j := i; j < order; j++ {
			a.SetSym(i, j, normal.At(i+1, j+1))
		}
		a.SetSym(i, i, a.At(i, i)+floor)
	}
	var factor mat.Cholesky
	var solved mat.VecDense
	if !factor.Factorize(a) || factor.SolveVecTo(&solved, right) != nil {
		return nil
	}
	filter := append([]float64{1}, solved.RawVector().Data...)
	for _, v := range filter {
		if math.IsNaN(v) {
			return nil
		}
	}
	return filter
}

// lagProducts holds Σ x[t−i]·x[t−j] over t from from on, for i, j up to order.
// Each diagonal follows from its first element: one product enters, one leaves.
func lagProducts(x []float64, from, order int) *mat.SymDense {
	c := mat.NewSymDense(order+1, nil)
	for lag := 0; lag <= order; lag++ {
		sum := 0.0
		for t := from; t < len(x); t++ {
			sum += x[t] * x[t-lag]
		}
		c.SetSym(0, lag, sum)
		for i := 1; i+lag <= order; i++ {
			// From Σ x[t−i+1]·x[t−i+1−lag] to Σ x[t−i]·x[t−i−lag].
			if in := from - i - lag; in >= 0 {
				sum += x[from-i] * x[in]
			}
			sum -= x[len(x)-i] * x[len(x)-i-lag]
			c.SetSym(i, i+lag, sum)
		}
	}
	return c
}

// filter is x through the finite filter a.
func filter(a, x []float64) []float64 {
	n := fastlength.From(len(x) + len(a))
	both := newTransform(n)
	s, t := both.spectrum(x), both.spectrum(a)
	for i := range s {
		s[i] *= t[i]
	}
	return both.waveform(s)[:len(x)]
}
