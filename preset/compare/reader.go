package compare

import (
	"math"

	"echowright/preset/window"
)

// Reading between samples: a sinc under a Kaiser window, β = 10, of 32 points at
// the rate of what is read and of more where it is thinned out. Its error lies
// below −90 dB up to 0.8 of half the rate.
const (
	halfPoints = 16
	beta       = 10.0
	places     = 512 // between two samples; between two places a straight line
)

// A reader reads sound at places between samples, so many samples apart.
type reader struct {
	half  int         // samples needed on either side
	table [][]float64 // a row of weights for each place
}

// newReader is one for reading every step-th sample: what lies above half the
// rate that comes out is cut.
func newReader(step float64) reader {
	r := reader{half: halfPoints}
	cut := 1.0
	if step > 1.01 {
		cut = 0.9 / step
		r.half = int(math.Ceil(halfPoints / cut))
	}
	for p := 0; p <= places; p++ {
		row := make([]float64, 2*r.half)
		sum := 0.0
		for j := range row {
			x := float64(j-r.half+1) - float64(p)/places
			row[j] = cut * window.Sinc(cut*x) * window.Kaiser(x/float64(r.half), beta)
			sum += row[j]
		}
		for j := range row {
			row[j] /= sum
		}
		r.table = append(r.table, row)
	}
	return r
}

// read gives n samples of x from the place at on, step apart; beyond its ends x
// is silent.
func (r reader) read(x []float64, at, step float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		place := at + float64(i)*step
		whole := math.Floor(place)
		u := (place - whole) * places
		row := int(u)
		u -= float64(row)
		from := int(whole) - r.half + 1
		if from < 0 || from+2*r.half > len(x) {
			out[i] = r.readEdge(x, from, row)
			continue
		}
		s := x[from : from+2*r.half]
		if u < 1e-9 { // as a take read at its own places
			out[i] = dot(r.table[row], s)
			continue
		}
		p, q := dot2(r.table[row], r.table[row+1], s)
		out[i] = p + u*(q-p)
	}
	return out
}

func (r reader) readEdge(x []float64, from, row int) float64 {
	sum := 0.0
	for j, w := range r.table[row] {
		if k := from + j; k >= 0 && k < len(x) {
			sum += w * x[k]
		}
	}
	return sum
}

func dot(w, s []float64) float64 {
	s = s[:len(w)]
	var a, b float64
	for j := 0; j+1 < len(w); j += 2 {
		a += w[j] * s[j]
		b += w[j+1] * s[j+1]
	}
	return a + b
}

// dot2 is dot for two rows of weights at once.
func dot2(w, v, s []float64) (a, b float64) {
	s, v = s[:len(w)], v[:len(w)]
	for j, x := range s {
		a += w[j] * x
		b += v[j] * x
	}
	return a, b
}

// slope is the derivative of x by the sample, good to 0.8 of half the rate: the
// derivative of the same kernel as is read with, at whole samples.
func slope(x []float64) []float64 {
	var k [halfPoints + 1]float64
	for n := 1; n <= halfPoints; n++ {
		k[n] = math.Pow(-1, float64(n)) / float64(n) * window.Kaiser(float64(n)/(halfPoints+1), beta)
	}
	d := make([]float64, len(x))
	for i := halfPoints; i < len(x)-halfPoints; i++ {
		s := x[i-halfPoints : i+halfPoints+1]
		sum := 0.0
		for n := 1; n <= halfPoints; n++ {
			sum += k[n] * (s[halfPoints-n] - s[halfPoints+n])
		}
		d[i] = sum
	}
	return d
}
