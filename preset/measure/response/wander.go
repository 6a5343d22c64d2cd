package response

import (
	"math"
	"math/cmplx"

	"echowright/preset"
)

// heard is the spectrum of what a gate lets through: of Wet, or the mean of Each
// after each has been moved to where the mean of them all stands; and how far
// they lay from it (standard deviation).
func (t Trace) heard(g Gate) (Spectrum, preset.Millis) {
	mean := g.Spectrum(t.Wet, t.Rate)
	if len(t.Each) < 2 {
		return mean, 0
	}
	shifts, middle := make([]float64, len(t.Each)), 0.0
	for k, one := range t.Each {
		shifts[k] = t.shift(mean, g.Spectrum(one, t.Rate))
		middle += shifts[k] / float64(len(t.Each))
	}
	laid := Spectrum{Bin: mean.Bin, Values: make([]complex128, len(mean.Values))}
	square := 0.0
	for k, one := range t.Each {
		off := shifts[k] - middle
		square += off * off
		for i, v := range g.Spectrum(one, t.Rate).Values {
			f := float64(mean.Bin) * float64(i)
			laid.Values[i] += v * cmplx.Rect(1/float64(len(t.Each)), 2*math.Pi*f*off/1000)
		}
	}
	return laid, preset.Millis(math.Sqrt(square / float64(len(t.Each)-1)))
}

// shift is by how many ms b lies behind a: where both agree best over the band
// in which delays are stated.
func (t Trace) shift(a, b Spectrum) float64 {
	product := Spectrum{Bin: a.Bin, Values: make([]complex128, len(a.Values))}
	for i := range product.Values {
		product.Values[i] = b.Values[i] * cmplx.Conj(a.Values[i])
	}
	high := math.Min(lookHigh, float64(t.High))
	p := phaseFit{q: product, from: int(lookLow / float64(a.Bin)), to: min(int(high/float64(a.Bin)), len(a.Values)-1)}
	best, at := math.Inf(-1), 0.0
	for d := -searched; d <= searched; d += searchStep {
		if c := p.agreement(d); c > best {
			best, at = c, d
		}
	}
	before, after := p.agreement(at-searchStep), p.agreement(at+searchStep)
	if bend := before - 2*best + after; bend < 0 { // the top of a parabola through three points
		at += searchStep * 0.5 * (before - after) / bend
	}
	return at
}
