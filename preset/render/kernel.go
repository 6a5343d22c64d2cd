package render

import "math"

// Reading between samples is done in two steps. When sound enters a memory, the
// values half-way between its samples are worked out once, by a sinc of 32 points
// under a Kaiser window. On that doubled grid the sound fills less than half of the
// band, so that ten points are enough for every voice that reads it. Up to 0.4 of
// the sample rate the error of both together lies below −80 dB at any fraction.
const (
	halfPairs = 16  // pairs of samples that make a value half-way
	halfBeta  = 10. // of their Kaiser window
	points    = 5   // of a kernel on the samples, and as many half-way
	fineBeta  = 9.25
	// ahead is how many samples beyond the place that is read must be known: the
	// kernel reaches 2.5 beyond the sample before it, the value half-way there 15.5 more.
	ahead = halfPairs + 2
	fine  = 256 // places in the table for voices that move, from one point of the grid to the next
)

// A kernel weights the points of the doubled grid around the place that is read:
// near those at −4, −2, 0, 2 and 4 from the point before the place, far those at
// −3, −1, 1, 3 and 5. Swapped says that the point before lies half-way between
// samples, so that near goes with the values half-way.
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
	for j := range points {
		k.near[j] = windowed(float64(2*j-points+1)-at, points, fineBeta)
		k.far[j] = windowed(float64(2*j-points+2)-at, points, fineBeta)
	}
	return k
}

func (k kernel) times(gain float64) kernel {
	for j := range points {
		k.near[j] *= gain
		k.far[j] *= gain
	}
	return k
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
	for i := range all {
		at := func(n int) kernel {
			var k kernel
			for j := range points {
				k.near[j] = windowed(float64(2*j-points+1)-float64(n)/fine, points, fineBeta)
				k.far[j] = windowed(float64(2*j-points+2)-float64(n)/fine, points, fineBeta)
			}
			return k
		}
		k, next := at(i), at(i+1)
		all[i].near, all[i].far = k.near, k.far
		for j := range points {
			all[i].nearOn[j], all[i].farOn[j] = next.near[j]-k.near[j], next.far[j]-k.far[j]
		}
	}
	return all
}
