package measure

import "math"

const (
	// A take that sings is looked at as if its sound faded: by e^−fading each second,
	// and so much over the whole take.
	fading     = 2.0 // 1/s
	fadingTake = 7.0
	fadedLevel = 0.02 // dB by which a tone that is read beside its frequency may be off
)

// sings tells whether the wet channel does not die away.
func (c channels) sings() bool {
	levels := blockLevels(c.wet, int(levelBlock*c.rate))
	tail := levels[max(0, len(levels)-int(0.1/levelBlock)):]
	return mean64(tail) > singingTail*quantile(levels, 1)
}

func mean64(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / math.Max(1, float64(len(x)))
}

// faded are the channels under e^(−rate·t). An echo is then fainter by
// e^(−rate·delay), so that a loop that grows dies away, and nothing else is
// changed but for a tone that is read a little beside its frequency.
func (c channels) faded(rate float64) channels {
	c.dry, c.wet, c.raw = fade(c.dry, rate/c.rate), fade(c.wet, rate/c.rate), fade(c.raw, rate/c.rate)
	whole := 2 * rate * float64(len(c.wet)) / c.rate
	share := (1 - math.Exp(-whole)) / whole
	c.wetNoise *= share
	c.dryNoise *= share
	return c
}

func fade(x []float64, by float64) []float64 {
	y := make([]float64, len(x))
	for i, v := range x {
		y[i] = v * math.Exp(-by*float64(i))
	}
	return y
}

// explainSinging is explain for a take whose loop does not die away; false where
// too few echoes are seen in it.
func (c channels) explainSinging(heads int, progress func(float64)) (explanation, bool) {
	rate := fading + fadingTake*c.rate/float64(len(c.wet))
	thin := c.faded(rate)
	seen := thin.look(sightHigh, sightDull)
	if thin.refusal(seen[0], heads) != nil {
		return explanation{}, false
	}
	e, _ := thin.explain(seen, heads, progress)
	for k, d := range e.unit.delay {
		e.unit.gain[k] *= math.Exp(rate * d)
		e.unit.fed[k] *= math.Exp(rate * d)
	}
	e.told.value = e.unit.figures()
	n := len(e.unit.delay)
	for i := n; i < len(e.told.sd); i++ {
		e.told.sd[i] = math.Hypot(e.told.sd[i], fadedLevel)
	}
	e.told.doubt(n, e.roughness())
	return e, true
}
