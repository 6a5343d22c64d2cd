package response

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"

	"echowright/preset"
	"echowright/preset/fastlength"
)

const (
	gateBefore = 0.015 // s that a gate opens before an arrival, at most
	gateAfter  = 0.1   // s that it stays open after it, at most
	binWidth   = 2.0   // Hz
)

// place is an arrival between its neighbours, in samples.
type place struct{ at, before, next int }

// A Gate cuts an arrival out of a trace: from Before samples before At to After
// samples after it, the first half of the one and the last half of the other
// along half a cosine.
type Gate struct{ At, Before, After int }

// gateAt ends where the neighbours' gates begin.
func gateAt(p place, rate preset.Hertz) Gate {
	before := min(int(gateBefore*float64(rate)), (p.at-p.before)/2)
	after := min(int(gateAfter*float64(rate)), p.next-p.at-before)
	return Gate{At: p.at, Before: max(before, 1), After: max(after, 1)}
}

// Seconds is how long the gate is open.
func (g Gate) Seconds(rate preset.Hertz) float64 { return float64(g.Before+g.After) / float64(rate) }

// Shifted is the same gate n samples later.
func (g Gate) Shifted(n int) Gate {
	g.At += n
	return g
}

// energy is the sum of the gate's squares: what it lets through of noise.
func (g Gate) energy() float64 {
	sum := 0.0
	for i := -g.Before; i < g.After; i++ {
		sum += g.weight(i) * g.weight(i)
	}
	return sum
}

func (g Gate) weight(i int) float64 {
	if i < 0 {
		return rise(float64(g.Before+i) / float64(g.Before))
	}
	return rise(float64(g.After-i) / float64(g.After))
}

// A Spectrum is what a gate let through, its phase counted from the gate's At.
// What of the gate lies outside the trace is silence.
type Spectrum struct {
	Bin    preset.Hertz
	Values []complex128
}

// Spectrum of what the gate lets through of h.
func (g Gate) Spectrum(h []float64, rate preset.Hertz) Spectrum {
	n := fastlength.From(max(int(float64(rate)/binWidth), 2*(g.Before+g.After)))
	x := make([]float64, n)
	for i := -g.Before; i < g.After; i++ {
		if k := g.At + i; k >= 0 && k < len(h) {
			x[(i+n)%n] = h[k] * g.weight(i)
		}
	}
	return Spectrum{Bin: rate / preset.Hertz(n), Values: fourier.NewFFT(n).Coefficients(nil, x)}
}

// Magnitude is the RMS of the magnitudes within half of the given octaves to
// each side of f; 0 beyond the spectrum.
func (s Spectrum) Magnitude(f preset.Hertz, octaves float64) float64 {
	from, to := s.around(f, octaves)
	sum := 0.0
	for _, v := range s.Values[from:to] {
		sum += real(v)*real(v) + imag(v)*imag(v)
	}
	return math.Sqrt(sum / math.Max(1, float64(to-from)))
}

// around are the bins from and before to that lie near f: one at least, if the
// spectrum has it.
func (s Spectrum) around(f preset.Hertz, octaves float64) (from, to int) {
	half := math.Exp2(octaves / 2)
	from = int(math.Ceil(float64(f/s.Bin) / half))
	to = int(math.Floor(float64(f/s.Bin)*half)) + 1
	if to <= from {
		from = int(math.Round(float64(f / s.Bin)))
		to = from + 1
	}
	return min(from, len(s.Values)), min(to, len(s.Values))
}

// over is the quotient of two spectra of one bin width, 0 where there is nothing
// to divide by.
func (s Spectrum) over(reference Spectrum) Spectrum {
	q := Spectrum{Bin: s.Bin, Values: make([]complex128, min(len(s.Values), len(reference.Values)))}
	for i := range q.Values {
		if r := reference.Values[i]; cmplx.Abs(r) > 0 {
			q.Values[i] = s.Values[i] / r
		}
	}
	return q
}
