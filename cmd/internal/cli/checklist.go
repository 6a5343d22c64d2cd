package cli

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"echowright/cmd/internal/ui"
	"echowright/midi"
	"echowright/preset"
	"echowright/profiles"
)

// mostListened is how many echoes an ear can be asked to follow.
const mostListened = 8

// nearUnity is the gain of a turn from which on the checklist begins with a
// caution, as a push does with a warning (common practice, no source).
const nearUnity preset.Decibels = -1

// checklist says, in the order in which it is done, how to make sure by ear of a
// slot that cannot be read.
func checklist(d *profiles.Device, unit, slot int, s profiles.Setting) []string {
	gain := d.LoopGain(s)
	lines := []string{"turn your monitors down: how loud the slot is nobody has heard yet"}
	if gain > nearUnity {
		lines = []string{fmt.Sprintf("caution: the loop's gain is %s dB a turn, near to or beyond running away: turn your monitors down, and keep a hand on the mute",
			ui.Signed(float64(gain), 1))}
	}
	call := fmt.Sprintf("call up another slot, then slot %d again", slot)
	if step, err := d.LoadStep(unit, slot); err == nil {
		call += " (by message: " + midi.Hex(step.Send) + ")"
	}
	lines = append(lines, call+": until then what sounds is what was sent, not what was stored", "play one short note, damp it, and listen")
	echoes, err := d.Echoes(s, preset.TrainFloor, preset.TrainLimit)
	if err != nil {
		return append(lines, fmt.Sprintf("what there is to hear cannot be listed: %v", err))
	}
	lines = append(lines, directLine(d.DryLevel(s)))
	lines = append(lines, echoLines(echoes, d.DryLevel(s))...)
	return append(lines, repeatLine(gain))
}

func directLine(level preset.Decibels) string {
	if math.IsInf(float64(level), -1) {
		return "at once: nothing; the direct sound is silent"
	}
	return fmt.Sprintf("at once: the direct sound, at %s dB", ui.Fixed(float64(level), 1))
}

// echoLines tell the loudest echoes, in the order in which they come. Levels are
// told beside the direct sound, or beside the loudest echo where there is none.
func echoLines(echoes []preset.Echo, direct preset.Decibels) []string {
	if len(echoes) == 0 {
		return []string{"then: no echo"}
	}
	loudest := loudestFirst(echoes)
	beside, what := direct, "the direct sound"
	if math.IsInf(float64(direct), -1) {
		beside, what = loudest[0].Level, "the loudest echo"
	}
	polarity := what == "the direct sound" || slices.ContainsFunc(echoes, func(e preset.Echo) bool { return e.Inverted != echoes[0].Inverted })
	shown := loudest[:min(len(loudest), mostListened)]
	slices.SortStableFunc(shown, func(a, b preset.Echo) int { return cmp.Compare(a.At, b.At) })
	var lines []string
	for _, e := range shown {
		line := fmt.Sprintf("after %s ms: an echo, %s", ui.Fixed(float64(e.At), 1), besideWords(e.Level-beside, what))
		if polarity && e.Inverted {
			line += ", inverted"
		}
		lines = append(lines, line)
	}
	if softer := len(loudest) - len(shown); softer > 0 {
		lines = append(lines, fmt.Sprintf("between and after them: %s, no louder than those", ui.Count(softer, "more echo", "more echoes")))
	}
	return lines
}

// fused is how close two echoes are when the ear hears them as one (common
// practice, no source).
const fused preset.Millis = 2

// loudestFirst leaves those out that are heard as one with a louder one.
func loudestFirst(echoes []preset.Echo) []preset.Echo {
	all := slices.Clone(echoes)
	slices.SortStableFunc(all, func(a, b preset.Echo) int { return cmp.Compare(b.Level, a.Level) })
	var apart []preset.Echo
	for _, e := range all {
		if !slices.ContainsFunc(apart, func(louder preset.Echo) bool { return math.Abs(float64(e.At-louder.At)) < float64(fused) }) {
			apart = append(apart, e)
		}
	}
	return apart
}

// besideWords say how loud something is beside something else. Half of the last
// digit told is no difference.
func besideWords(by preset.Decibels, what string) string {
	const alike = 0.05
	switch {
	case math.Abs(float64(by)) < alike && what == "the loudest echo":
		return what
	case math.Abs(float64(by)) < alike:
		return "as loud as " + what
	case by < 0:
		return fmt.Sprintf("%s dB below %s", ui.Fixed(-float64(by), 1), what)
	}
	return fmt.Sprintf("%s dB above %s", ui.Fixed(float64(by), 1), what)
}

// repeatLine tells how often what the loop gives back is heard, from the gain of a
// turn with all cuts open: with them it dies away sooner.
func repeatLine(gain preset.Decibels) string {
	floor := -float64(preset.TrainFloor)
	switch {
	case math.IsInf(float64(gain), -1):
		return "then: no repeats; nothing feeds back"
	case gain >= 0:
		return "then: all of it again and again, and it need not become softer"
	}
	return fmt.Sprintf("then: all of it again, each time at least %s dB softer; %s at most until it is %s dB down",
		ui.Fixed(-float64(gain), 1), ui.Count(int(math.Ceil(floor/-float64(gain))), "time", "times"), ui.Fixed(floor, 0))
}
