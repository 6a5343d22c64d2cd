package measure

import (
	"math"
	"slices"

	"echowright/preset"
)

// trackStep is between two values of a note's speed.
const trackStep preset.Millis = 10

// speeds is how far the speed lay from its mean over the take, in percent, a value
// for the middle of every trackStep: each note's own motion while it and its echoes
// sound, NaN between. Nil if no note tells of motion.
func speeds(fits []noteFit) []float64 {
	if !slices.ContainsFunc(fits, func(f noteFit) bool { return f.machine.moves() }) {
		return nil
	}
	var all []float64
	for _, f := range fits {
		begin, end := f.span()
		for at := (preset.Millis(len(all)) + 0.5) * trackStep; at < end; at += trackStep {
			v := math.NaN()
			if at >= begin && f.machine.moves() {
				v = 100 * f.machine.speedAt(float64(at-begin)/1000)
			}
			all = append(all, v)
		}
	}
	return all
}

// span is where the data of a note begin and end, from the start of the take.
func (f noteFit) span() (begin, end preset.Millis) {
	rate := preset.Hertz(f.sound.rate)
	begin = f.onset - preset.SamplesToMillis(float64(f.sound.lead), rate)
	return begin, begin + preset.SamplesToMillis(float64(len(f.sound.take)), rate)
}

func (m machine) moves() bool { return !m.wow[0].still() || !m.wow[1].still() }

// speedAt is the deviation of the speed at t (s from the start of the data).
func (m machine) speedAt(t float64) float64 {
	v := 0.0
	for _, w := range m.wow {
		s, c := math.Sincos(2 * math.Pi * w.rate * t)
		v += w.sine*s + w.cosine*c
	}
	return v
}
