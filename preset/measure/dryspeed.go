package measure

import (
	"math"
	"slices"

	"echowright/preset"
)

const (
	speedStep = 0.01 // s, to a whole number of samples
	// A moment tells of the speed where the wet channel is so many times its noise.
	speedAbove = 4.0
)

// percent is how far the carrier's speed lies from its mean t s from the start of
// the take.
func (m *swaying) percent(t float64) float64 {
	v := 0.0
	for _, w := range m.sways {
		if w.rate > 0 {
			sin, cos := math.Sincos(2 * math.Pi * w.rate * t)
			v += w.sine*sin + w.cosine*cos
		}
	}
	return 100 * v
}

// span is a part of the take, in s from its start.
type span struct{ from, to float64 }

func (s span) holds(t float64) bool { return t >= s.from && t < s.to }

// speed is the deviation of the carrier's speed in percent, a value a step for its
// middle, NaN where nothing was fitted or nothing sounds that could tell; nil
// while the carrier does not waver.
func (e explanation) speed() ([]float64, preset.Millis) {
	if e.moves == nil {
		return nil, 0
	}
	size := int(speedStep * e.c.rate)
	all := slices.Repeat([]float64{math.NaN()}, e.c.before(size))
	for i, level := range blockLevels(e.c.wet, size) {
		t := (float64(i) + 0.5) * float64(size) / e.c.rate
		v := math.NaN()
		if e.fitted.holds(t) && level > speedAbove*e.noise() {
			v = e.moves.percent(t)
		}
		all = append(all, v)
	}
	return all, preset.SamplesToMillis(float64(size), preset.Hertz(e.c.rate))
}

// before is how many steps of so many samples lie before the part of the take that
// is measured.
func (c channels) before(size int) int { return int(math.Round(c.from * c.rate / float64(size))) }

// leftLevels are the levels of what is left, a value a step, NaN where nothing was
// fitted.
func (e explanation) leftLevels() ([]preset.Decibels, preset.Millis) {
	size := int(levelBlock * e.c.rate)
	all := slices.Repeat([]preset.Decibels{preset.Decibels(math.NaN())}, e.c.before(size))
	for i, l := range blockLevels(e.left, size) {
		v := preset.Decibels(10 * math.Log10(math.Max(l, 1e-30)))
		if e.moves != nil && !e.fitted.holds((float64(i)+0.5)*float64(size)/e.c.rate) {
			v = preset.Decibels(math.NaN())
		}
		all = append(all, v)
	}
	return all, preset.SamplesToMillis(float64(size), preset.Hertz(e.c.rate))
}
