package preset

import "math"

// Tone is a one-pole low cut and a one-pole high cut, one after the other. A
// corner of 0 means that the cut is not there.
//
//	|H(f)| = 1/√(1+(low/f)²) · 1/√(1+(f/high)²)
type Tone struct {
	LowCut, HighCut Hertz
}

// Magnitude is |H(f)|: 1 where nothing is lost. f must be above 0.
func (t Tone) Magnitude(f Hertz) float64 {
	m := 1.0
	if t.LowCut > 0 {
		m /= math.Hypot(1, float64(t.LowCut/f))
	}
	if t.HighCut > 0 {
		m /= math.Hypot(1, float64(f/t.HighCut))
	}
	return m
}

// AtSpeed is the tone when the carrier runs faster by ratio: wavelengths on the
// carrier stay as they are, so the corners move with the speed (λ = v/f).
func (t Tone) AtSpeed(ratio float64) Tone {
	return Tone{LowCut: t.LowCut * Hertz(ratio), HighCut: t.HighCut * Hertz(ratio)}
}
