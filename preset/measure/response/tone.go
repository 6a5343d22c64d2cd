package response

import (
	"math"

	"echowright/preset"
)

const (
	toneFloor = 25.0 // dB below the top of a curve: what lies lower hardly counts in a tone
	fewest    = 6    // points that a tone can be fitted to
	noCut     = 0.4  // dB that a cut must change within the curve to be told
)

// fitTone finds the one-pole low and high cut that lie nearest to a curve, each
// left out where the curve does not show it, and how far off they are (RMS).
func fitTone(points []Point) (preset.Tone, preset.Decibels) {
	if len(points) < fewest {
		return preset.Tone{}, 0
	}
	first, last := float64(points[0].Hz), float64(points[len(points)-1].Hz)
	best := corners{math.Log(first / 4), math.Log(last * 4)}
	far := math.Inf(1)
	for low := math.Log(first / 4); low < math.Log(last); low += 0.35 {
		for high := low; high < math.Log(last*4)+0.35; high += 0.35 {
			if d := distance(points, corners{low, high}); d < far {
				far, best = d, corners{low, high}
			}
		}
	}
	for step := 0.2; step > 1e-4; step /= 2 {
		for moved := true; moved; {
			moved = false
			for _, c := range []corners{{best.low + step, best.high}, {best.low - step, best.high}, {best.low, best.high + step}, {best.low, best.high - step}} {
				if d := distance(points, c); d < far-1e-12 && c.inside(first, last) {
					far, best, moved = d, c, true
				}
			}
		}
	}
	tone := best.tone()
	if lost(preset.Tone{LowCut: tone.LowCut}, first) < noCut {
		tone.LowCut = 0
	}
	if lost(preset.Tone{HighCut: tone.HighCut}, last) < noCut {
		tone.HighCut = 0
	}
	return tone, preset.Decibels(math.Sqrt(far))
}

// corners are the logarithms of the corner frequencies.
type corners struct{ low, high float64 }

func (c corners) tone() preset.Tone {
	return preset.Tone{LowCut: preset.Hertz(math.Exp(c.low)), HighCut: preset.Hertz(math.Exp(c.high))}
}

func (c corners) inside(first, last float64) bool {
	return c.low > math.Log(first/100) && c.high < math.Log(last*100)
}

func lost(t preset.Tone, f float64) float64 { return -20 * math.Log10(t.Magnitude(preset.Hertz(f))) }

// distance is the mean square in dB between the curve and a tone, whatever the
// level of both. Points low down count less: noise and crosstalk make them.
func distance(points []Point, c corners) float64 {
	tone := c.tone()
	top := preset.Decibels(math.Inf(-1))
	for _, p := range points {
		top = max(top, p.Level)
	}
	weights, sum, square := 0.0, 0.0, 0.0
	for _, p := range points {
		d := float64(p.Level - preset.FromAmplitude(tone.Magnitude(p.Hz)))
		w := 1.0
		if below := float64(top - p.Level); below > toneFloor {
			w = 0.01
		}
		weights += w
		sum += w * d
		square += w * d * d
	}
	return math.Max(0, square/weights-sum*sum/weights/weights)
}
