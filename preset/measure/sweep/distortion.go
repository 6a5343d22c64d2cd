package sweep

import (
	"math"

	"echowright/preset"
	"echowright/preset/measure/response"
	"echowright/preset/signals"
)

// A Distortion is what one head adds of one harmonic. Curve is empty where the
// harmonic drowns in noise or in other echoes.
type Distortion struct {
	Way   int        `json:"way"` // of the result's ways, counted from 0
	Order int        `json:"order"`
	Curve []Harmonic `json:"curve"`
	// Covered says that the harmonic stands where another sound does in the undone
	// sweep, and is therefore not told.
	Covered bool `json:"covered,omitempty"`
}

// A Harmonic is the level of a harmonic to its fundamental, which is at Hz.
type Harmonic struct {
	Hz    preset.Hertz    `json:"hz"`
	Level preset.Decibels `json:"level_db"`
}

// At is the level to the fundamental at f, by the nearest point of the curve; ok
// is false where that is more than a sixth of an octave away.
func (d Distortion) At(f preset.Hertz) (level preset.Decibels, ok bool) {
	nearest := 1.0 / 6
	for _, h := range d.Curve {
		if off := math.Abs(math.Log2(float64(h.Hz / f))); off <= nearest {
			nearest, level, ok = off, h.Level, true
		}
	}
	return level, ok
}

const (
	lowestFundamental = 40.0 // Hz
	thirds            = 3    // points an octave
	edge              = 1.25 // the ends of the sweep's band are left out by this factor
	overNoise         = 6.0  // dB
	nothingBy         = 12   // the order by which only noise is left
)

func distortions(t response.Trace, s signals.Sweep, r response.Result) []Distortion {
	var all []Distortion
	crowd := arrivalsOf(r, t)
	for k, w := range r.Ways {
		linear := w.Gate.Spectrum(t.Wet, t.Rate)
		floor := w.Gate.Shifted(-ahead(s, nothingBy, t.Rate)).Spectrum(t.Wet, t.Rate)
		for n := 2; n <= highestOrder; n++ {
			d := Distortion{Way: k, Order: n, Covered: crowd.covers(w, n, s, t.Rate)}
			gate := w.Gate.Shifted(-ahead(s, n, t.Rate))
			if gate.At-gate.Before >= 0 && !d.Covered {
				d.Curve = harmonicCurve(linear, gate.Spectrum(t.Wet, t.Rate), floor, n, s, gate.Seconds(t.Rate))
			}
			all = append(all, d)
		}
	}
	return all
}

// ahead is how many samples harmonic n stands before the linear response.
func ahead(s signals.Sweep, n int, rate preset.Hertz) int {
	return int(math.Round(s.Ahead(n).Samples(rate)))
}

// harmonicCurve compares the harmonic at n·f with the fundamental at f.
func harmonicCurve(linear, harmonic, floor response.Spectrum, n int, s signals.Sweep, seconds float64) []Harmonic {
	var all []Harmonic
	low := math.Max(math.Max(lowestFundamental, edge*float64(s.From)), 1.5/seconds)
	high := float64(s.To) / edge / float64(n)
	for k := math.Ceil(thirds * math.Log2(low/1000)); ; k++ {
		f := preset.Hertz(1000 * math.Exp2(k/thirds))
		if float64(f) > high {
			return all
		}
		over := f * preset.Hertz(n)
		h := harmonic.Magnitude(over, 1.0/thirds)
		if h == 0 || 20*math.Log10(h/floor.Magnitude(over, 1.0/thirds)) < overNoise {
			continue
		}
		all = append(all, Harmonic{Hz: f, Level: preset.FromAmplitude(h / linear.Magnitude(f, 1.0/thirds))})
	}
}
