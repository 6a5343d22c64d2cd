package arrange

import (
	"math"

	"echowright/preset"
	"echowright/profiles"
)

// How much lower than it could everything may lie, if levels then meet the
// device's steps better, and in which steps that is tried.
const (
	mostLower preset.Decibels = 1
	lowerStep preset.Decibels = 0.05
	// A lower shift must make the error this much smaller to be worth it: by a
	// hundredth of a dB, and by more than the last digits of the arithmetic.
	worthLower = 0.998
	sameCost   = 1e-9
)

// setLevels sets the lines' levels and the direct sound. All of them share one
// shift, so that nothing lies above 0 dB and nothing above the unit's own level.
func (x *search) setLevels(d *draft) {
	all, ok := x.sums(d)
	if !ok {
		d.cost = math.Inf(1)
		return
	}
	levels := d.levelsOf(all)
	top := x.topShift(levels)
	least := math.Inf(1)
	for _, shift := range shifts(x.wish.topShift(), top, mostLower) {
		places, cost := x.round(all, levels, shift, d.reach())
		cost += x.deck.setDry(x.wish, d.setting, shift)
		if cost < least*worthLower-sameCost {
			least, d.levels, d.shift = cost, places, shift
		}
	}
	x.putLevels(d)
	x.deck.setDry(x.wish, d.setting, d.shift)
	d.cost = least
}

// shifts are those that are tried: from the greatest that the wish allows, at which
// the loudest lines may be softer than they should, down to a little below the
// one at which no line would have to be above 0 dB.
func shifts(greatest, top, lower preset.Decibels) []preset.Decibels {
	all := []preset.Decibels{greatest}
	for s := top; s >= top-lower-lowerStep/2; s -= lowerStep {
		if s < greatest {
			all = append(all, s)
		}
	}
	return all
}

// topShift is the greatest shift: not above 0, and no level above 0 dB, but for
// what rounding takes back.
func (x *search) topShift(levels []float64) preset.Decibels {
	top := x.wish.topShift()
	for _, l := range levels {
		if l > 0 {
			top = min(top, lowerStep-preset.FromAmplitude(l/x.deck.loudest()))
		}
	}
	return top
}

// topShift is the greatest shift that the wish allows by itself.
func (w *wish) topShift() preset.Decibels {
	if e := w.pattern.EchoToDirect; e != nil {
		return min(0, *e)
	}
	return 0
}

// setDry sets the direct sound: as far from the echoes as in the unit, or, where
// that is not known, as loud as 0 dB on the unit's scale could be. It gives what a
// direct sound at the wrong distance counts: as much as if all echoes were that
// much too loud or too soft.
func (k *deck) setDry(w *wish, s profiles.Setting, shift preset.Decibels) float64 {
	if k.device.Dry == profiles.None {
		return 0
	}
	level := preset.Decibels(0)
	if w.pattern.EchoToDirect != nil {
		level = shift - *w.pattern.EchoToDirect
	}
	dry := amplitudes(k.device.Parameters[k.device.Dry].Scale, 1)
	if len(dry) == 0 {
		return 0
	}
	r := dry[dry.nearest(level.Amplitude())]
	s.Codes[k.device.Dry] = r.code
	switch {
	case w.pattern.EchoToDirect == nil:
		return 0
	case r.value == 0:
		return 1
	}
	return math.Pow(level.Amplitude()/r.value-1, 2)
}
