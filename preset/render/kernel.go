package render

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Reading between samples is done in two steps. When sound enters a memory, the
// values half-way between its samples are worked out once, by a sinc of 32 points
// under a Kaiser window. On that doubled grid the sound fills less than half of the
// band, so that eight points are enough for every voice that reads it: those that
// come nearest to the delay by least squares over the band. Up to 0.4 of the sample
// rate the error of both together lies below −80 dB at any fraction.
const (
	halfPairs = 16  // pairs of samples that make a value half-way
	halfBeta  = 10. // of their Kaiser window
	points    = 4   // of a kernel on the samples, and as many half-way
	// ahead is how many samples beyond the place that is read must be known: the
	// kernel reaches 2 beyond the sample before it, the value half-way there 16 more.
	ahead = halfPairs + 2
	fine  = 256 // places in the table for voices that move, from one point of the grid to the next
)

// A kernel weights the points of the doubled grid around the place that is read:
// near those at −2, 0, 2 and 4 from the point before the place, far those at −3, −1,
// 1 and 3. Swapped says that the point before lies half-way between samples, so that
// near goes with the values half-way.
type kernel struct {
	near, far [points]float64
	swapped   bool
}

// kernelAt is for reading u samples after a sample, 0 ≤ u ≤ 1.
func kernelAt(u float64) kernel {
	k := kernel{swapped: u >= 0.5}
	at := 2 * u
	if k.swapped {
		at--
	}
	k.near, k.far = fitted(at)
	return k
}

func (k kernel) times(gain float64) kernel {
	for j := range points {
		k.near[j] *= gain
		k.far[j] *= gain
	}
	return k
}

// The band over which kernels are fitted, as a share of half the rate of the doubled
// grid, and the frequency near its end that gets extra weight, so that the error is
// much the same all over the band. Found by trying: −81.7 dB up to 0.4.
const (
	fitBand = 0.42
	fitEdge = 0.39
	fitMore = 0.15
)

// fitted are the weights for reading at, from 0 to 1, behind a point of the grid:
// those w for which ∫|Σ w_j·exp(−iωj) − exp(−iω·at)|² over the band is the least.
// The normal equations hold the integrals of cos ω(j−k) and cos ω(j−at): sincs.
func fitted(at float64) (near, far [points]float64) {
	const n = 2 * points
	product := func(apart float64) float64 {
		v := fitBand
		if apart != 0 {
			v = math.Sin(math.Pi*fitBand*apart) / (math.Pi * apart)
		}
		return v + fitMore*math.Cos(math.Pi*fitEdge*apart)
	}
	normal, right := mat.NewDense(n, n, nil), mat.NewVecDense(n, nil)
	for j := range n {
		right.SetVec(j, product(float64(j-points+1)-at))
		for k := range n {
			normal.Set(j, k, product(float64(j-k)))
		}
	}
	var w mat.VecDense
	_ = w.SolveVec(normal, right) // well enough conditioned: one matrix for all places, which the tests solve
	for j := range points {
		far[j], near[j] = w.AtVec(2*j), w.AtVec(2*j+1)
	}
	return near, far
}

// halfWeights are the weights of the pairs around a value half-way, the nearest
// first.
func halfWeights(pairs int, beta float64) []float64 {
	h := make([]float64, pairs)
	for i := range h {
		h[i] = windowed(float64(i)+0.5, float64(pairs), beta)
	}
	return h
}

// windowed is sinc(x) under a Kaiser window that ends at ±half.
func windowed(x, half, beta float64) float64 {
	r := x / half
	if r <= -1 || r >= 1 {
		return 0
	}
	w := bessel(beta*math.Sqrt(1-r*r)) / bessel(beta)
	if math.Abs(x) < 1e-12 {
		return w
	}
	return w * math.Sin(math.Pi*x) / (math.Pi * x)
}

// bessel is the modified Bessel function of the first kind of order 0: the sum of
// ((x/2)^n/n!)².
func bessel(x float64) float64 {
	sum, part := 1.0, 1.0
	for n := 1.0; part > 1e-9*math.Sqrt(sum); n++ {
		part *= x / 2 / n
		sum += part * part
	}
	return sum
}

// A leap is what a voice that moves needs of the kernels at one place of the table:
// the weights there and how far it is to those at the next place.
type leap struct{ near, far, nearOn, farOn [points]float64 }

// newLeaps is the table of kernels from one point of the doubled grid to the next.
func newLeaps() []leap {
	all := make([]leap, fine)
	near, far := fitted(0)
	for i := range all {
		l := &all[i]
		l.near, l.far = near, far
		near, far = fitted(float64(i+1) / fine)
		for j := range points {
			l.nearOn[j], l.farOn[j] = near[j]-l.near[j], far[j]-l.far[j]
		}
	}
	return all
}
