package measure

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"

	"echowright/preset/fastlength"
)

// A transform goes from samples to their spectrum and back, n at a time. Making one
// costs about as much as using it: who needs several of a length shares it.
type transform struct {
	n   int
	fft *fourier.FFT
}

func newTransform(n int) transform { return transform{n, fourier.NewFFT(n)} }

// spectrum is the transform of x, padded with zeros to n samples.
func (t transform) spectrum(x []float64) []complex128 {
	padded := make([]float64, t.n)
	copy(padded, x)
	return t.fft.Coefficients(nil, padded)
}

// waveform is the inverse of spectrum: n samples.
func (t transform) waveform(s []complex128) []float64 {
	x := t.fft.Sequence(nil, s)
	for i := range x {
		x[i] /= float64(t.n)
	}
	return x
}

// spectrum is the transform of x, padded with zeros to n samples.
func spectrum(x []float64, n int) []complex128 { return newTransform(n).spectrum(x) }

// waveform is the inverse of spectrum: n samples.
func waveform(s []complex128, n int) []float64 { return newTransform(n).waveform(s) }

// band is a pass band with raised-cosine edges: it rises from 0 at low/2 to 1 at
// low and falls from 1 at high to 0 at 1.3·high, all in Hz. A low of 0 passes
// everything below. No phase: nothing is made late.
type band struct{ low, high float64 }

func (b band) gain(f float64) float64 {
	g := 1.0
	if b.low > 0 {
		g = rise(f, b.low/2, b.low)
	}
	return g * rise(-f, -1.3*b.high, -b.high)
}

// rise goes from 0 at from to 1 at to along half a period of a cosine.
func rise(x, from, to float64) float64 {
	switch {
	case x <= from:
		return 0
	case x >= to:
		return 1
	}
	return 0.5 - 0.5*math.Cos(math.Pi*(x-from)/(to-from))
}

// thin is x limited to the band and with only every step-th sample kept. The
// band must end below 1/1.3 of half the new rate.
func thin(x []float64, rate float64, b band, step int) []float64 {
	short := fastlength.From((len(x)+step-1)/step + 1)
	n := short * step
	s := spectrum(x, n)
	kept := s[:short/2+1]
	for i := range kept {
		kept[i] *= complex(b.gain(float64(i)*rate/float64(n))/float64(step), 0)
	}
	return waveform(kept, short)[:(len(x)+step-1)/step]
}

// thinning is the greatest step of few prime factors that leaves a rate of at
// least the given one.
func thinning(rate, atLeast float64) int {
	best := 1
	for _, step := range []int{2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 96, 128} {
		if rate/float64(step) >= atLeast {
			best = step
		}
	}
	return best
}

// deconvolve divides the spectrum of whole by that of part, Wiener fashion, with
// the noise's power per bin given, and keeps to the band: 1 at lag 0 is what the
// part itself would give.
func deconvolve(whole, part []float64, rate, noise float64, b band) []float64 {
	n := fastlength.From(len(whole) + len(part))
	t := newTransform(n)
	y, x := t.spectrum(whole), t.spectrum(part)
	var full float64
	for i := range y {
		power := real(x[i])*real(x[i]) + imag(x[i])*imag(x[i])
		g := b.gain(float64(i)*rate/float64(n)) / (power + noise)
		full += 2 * g * power
		y[i] *= cmplx.Conj(x[i]) * complex(g, 0)
	}
	h := t.waveform(y)[:len(whole)]
	for i := range h {
		h[i] *= float64(n) / math.Max(full, 1e-300)
	}
	return h
}
