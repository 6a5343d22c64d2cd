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
	// hundredth, and by more than the last digits of the arithmetic.
	worthLower = 0.99
	sameCost   = 1e-9
)

// setLevels sets the lines' levels and the direct sound. All of them share one
// shift, so that nothing lies above 0 dB and nothing above the unit's own level.
func (k *deck) setLevels(w *wish, made *draft) {
	all, plain := w.sums(made.lines, rounded)
	chosen := make([]int, len(made.lines))
	for i := range chosen {
		chosen[i] = i
	}
	levels := all.fit(chosen)
	top := k.topShift(w, made.lines, levels)
	least := math.Inf(1)
	for n := range int(mostLower/lowerStep) + 1 {
		shift := top - preset.Decibels(n)*lowerStep
		s := made.setting.Clone()
		got := make([]float64, len(levels))
		for line, l := range levels {
			got[line] = k.setLevel(s, line, l/made.lines[line].left, shift) * made.lines[line].left
		}
		k.setDry(w, s, shift)
		cost := plain.cost(chosen, got) + k.directCost(w, s, shift)
		if cost < least*worthLower-sameCost {
			least, made.setting, made.shift = cost, s, shift
		}
	}
}

// topShift is the greatest shift: not above 0, and no level above 0 dB, but for
// what rounding takes back.
func (k *deck) topShift(w *wish, lines []voice, levels []float64) preset.Decibels {
	top := w.topShift()
	for i, l := range levels {
		if l > 0 {
			top = min(top, lowerStep-preset.FromAmplitude(l/lines[i].left))
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

// setLevel sets a line's level and gives what it is on the pattern's scale.
func (k *deck) setLevel(s profiles.Setting, line int, level float64, shift preset.Decibels) float64 {
	i := k.device.Lines[line].Parameter(profiles.RoleLevel)
	if i == profiles.None {
		return 1 / shift.Amplitude()
	}
	s.Codes[i] = levelCode(k.level, level*shift.Amplitude())
	return k.device.Amplitude(i, s) / shift.Amplitude()
}

// levelCode is the level nearest to an amplitude ratio, 0 dB at most: silent where
// that is nearer than the least level there is.
func levelCode(scale *profiles.Scale, amplitude float64) int {
	least, _ := scale.Range()
	if silent, ok := scale.Silent(); ok && amplitude < preset.Decibels(least).Amplitude()/2 {
		return silent
	}
	code := scale.Nearest(math.Max(float64(preset.FromAmplitude(amplitude)), least))
	if scale.Value(code).Number > 0 {
		return scale.AtMost(0)
	}
	return code
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
