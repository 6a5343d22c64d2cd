package steadytone

import (
	"math"
	"math/cmplx"
)

// The weighting of AES6-2008 (IEC 60386) by the figures of a filter that meets
// the 17 points of its table within 0.35 dB, all in Hz:
//
//	H(f) = s³/((s+highPass)·(s²+s·resonance/q+resonance²))
//	     · lowPole/(s+lowPole) · (s+shelfZero)/(s+shelfPole),  s = j·f
//
// and 0 dB at 4 Hz.
const (
	highPass  = 1.51264
	resonance = 0.44033
	q         = 0.66135
	lowPole   = 9.09087
	shelfZero = 40.18857
	shelfPole = 54.27824

	weightedAt = 4.0 // Hz, where the weight is 1
	// settling is the time in s after which what the filter made of its start
	// has died away (its slowest pole dies with 0.48 s).
	settling = 4.0
)

// weighting is the filter as a chain of sections.
type weighting struct {
	sections []section
	scale    float64
}

// newWeighting is by the bilinear transform: at 4 kHz and above its bending of
// the frequencies is below 0.1 dB at 200 Hz.
func newWeighting(rate float64) weighting {
	w := weighting{scale: 1, sections: []section{
		bilinear(rate, [3]float64{0, 1, 0}, [3]float64{highPass * lowPole, highPass + lowPole, 1}),
		bilinear(rate, [3]float64{0, 0, 1}, [3]float64{resonance * resonance, resonance / q, 1}),
		bilinearFirst(rate, [2]float64{shelfZero, 1}, [2]float64{shelfPole, 1}),
	}}
	w.scale = 1 / w.gain(weightedAt, rate)
	return w
}

func (w *weighting) add(x float64) float64 {
	for i := range w.sections {
		x = w.sections[i].add(x)
	}
	return w.scale * x
}

// gain is the magnitude of the weight at f.
func (w *weighting) gain(f, rate float64) float64 {
	g := w.scale
	z := cmplx.Rect(1, -2*math.Pi*f/rate)
	for _, s := range w.sections {
		g *= cmplx.Abs((complex(s.b[0], 0) + z*(complex(s.b[1], 0)+z*complex(s.b[2], 0))) /
			(1 + z*(complex(s.a[1], 0)+z*complex(s.a[2], 0))))
	}
	return g
}

// A section is a filter of second order in transposed form.
type section struct {
	b, a [3]float64 // a[0] is 1
	z    [2]float64
}

func (s *section) add(x float64) float64 {
	y := s.b[0]*x + s.z[0]
	s.z[0] = s.b[1]*x - s.a[1]*y + s.z[1]
	s.z[1] = s.b[2]*x - s.a[2]*y
	return y
}

// bilinear takes polynomials in s in Hz, the lowest power first.
func bilinear(rate float64, num, den [3]float64) section {
	k := rate / math.Pi
	fold := func(p [3]float64) [3]float64 {
		return [3]float64{p[0] + p[1]*k + p[2]*k*k, 2*p[0] - 2*p[2]*k*k, p[0] - p[1]*k + p[2]*k*k}
	}
	return normal(fold(num), fold(den))
}

func bilinearFirst(rate float64, num, den [2]float64) section {
	k := rate / math.Pi
	fold := func(p [2]float64) [3]float64 { return [3]float64{p[0] + p[1]*k, p[0] - p[1]*k, 0} }
	return normal(fold(num), fold(den))
}

func normal(b, a [3]float64) section {
	for i := range b {
		b[i] /= a[0]
	}
	return section{b: b, a: [3]float64{1, a[1] / a[0], a[2] / a[0]}}
}
