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
	// A lower shift must make the error this much smaller to be worth it.
	worthLower = 0.99
)

// setLevels sets the lines' levels and the direct sound. All of them share one
// shift, so that nothing lies above 0 dB and nothing above the unit's own level.
func (k *deck) setLevels(w *wish, made *draft) error {
	alone, err := k.trains(w, *made)
	if err != nil {
		return err
	}
	all, plain := w.sums(alone)
	chosen := make([]int, len(alone))
	for i := range chosen {
		chosen[i] = i
	}
	levels := all.fit(chosen)
	top := k.topShift(w, levels)
	least := math.Inf(1)
	for n := range int(mostLower/lowerStep) + 1 {
		shift := top - preset.Decibels(n)*lowerStep
		s := made.setting.Clone()
		rounded := make([]float64, len(levels))
		for line, l := range levels {
			rounded[line] = k.setLevel(s, line, l, shift)
		}
		k.setDry(w, s, shift)
		cost := plain.cost(chosen, rounded) + k.directCost(w, s, shift)
		if cost < least*worthLower {
			least, made.setting, made.shift = cost, s, shift
		}
	}
	return nil
}

// topShift is the greatest shift: not above 0, and no level above 0 dB.
func (k *deck) topShift(w *wish, levels []float64) preset.Decibels {
	top := preset.Decibels(0)
	if w.pattern.EchoToDirect != nil {
		top = min(top, *w.pattern.EchoToDirect)
	}
	for _, l := range levels {
		if l > 0 {
			top = min(top, -preset.FromAmplitude(l))
		}
	}
	return top + 0 // no negative zero
}

// setLevel sets a line's level and gives what it is on the pattern's scale.
func (k *deck) setLevel(s profiles.Setting, line int, level float64, shift preset.Decibels) float64 {
	i := k.device.Lines[line].Parameter(profiles.RoleLevel)
	if i == profiles.None {
		return 1 / shift.Amplitude()
	}
	s.Codes[i] = levelCode(k.level, level*shift.Amplitude())
	return levelOf(k.level, s.Codes[i]) / shift.Amplitude()
}

// setDry sets the direct sound: as far from the echoes as in the unit, or, where
// that is not known, as loud as 0 dB on the unit's scale could be.
func (k *deck) setDry(w *wish, s profiles.Setting, shift preset.Decibels) {
	if k.device.Dry == profiles.None {
		return
	}
	level := preset.Decibels(0)
	if w.pattern.EchoToDirect != nil {
		level = shift - *w.pattern.EchoToDirect
	}
	s.Codes[k.device.Dry] = levelCode(k.device.Parameters[k.device.Dry].Scale, level.Amplitude())
}

// directCost is what a direct sound at the wrong distance counts: as much as if
// all echoes were that much too loud or too soft.
func (k *deck) directCost(w *wish, s profiles.Setting, shift preset.Decibels) float64 {
	if w.pattern.EchoToDirect == nil || k.device.Dry == profiles.None {
		return 0
	}
	off := shift - k.device.DryLevel(s) - *w.pattern.EchoToDirect
	if math.IsInf(float64(off), 0) {
		return 1
	}
	return math.Pow(off.Amplitude()-1, 2)
}
