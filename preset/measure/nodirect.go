package measure

import (
	"fmt"
	"math"
)

// A take that lacks the direct sound has its first echo in its place. The others
// follow at their distances to the first, and as all went through the same tone,
// none is duller than what seems to be the note. With a loop the first echo itself
// comes back after one turn: as a head that is as loud as the loop's gain, which
// feeds it.

const (
	// A tone that takes no more than this, dB, of dullAt is no tone.
	hardlyDull = 0.5
	dullAt     = 5000.0 // Hz
	thinAt     = 100.0
	// By how much a loop's gain may differ from its head's level to be the same, dB;
	// and where tones that differ leave so much unexplained, dB.
	sameGain      = 0.1
	likeGain      = 0.3
	unlikeSources = 12
	// An echo so much below the direct sound, dB, is hardly one that stands for it.
	asLoud = -1.0
)

// bright tells whether the echoes are as bright as the direct sound.
func (f fitted) bright() bool {
	t, rate := f.machine.tone, f.sound.rate
	middle := t.magnitude(1000, rate)
	for _, hz := range []float64{thinAt, math.Min(dullAt, 0.4*rate)} {
		if math.Abs(decibels(t.magnitude(hz, rate)/middle)) > hardlyDull {
			return false
		}
	}
	return true
}

// echoesAlone tells whether the first sound may be an echo of a unit without a
// loop.
func (f fitted) echoesAlone() bool { return len(f.machine.feeds) == 0 && f.bright() }

// turnsAlone tells whether the first sound may be an echo of a unit with a loop. If
// that has a tone, what comes back is duller than the rest, which one machine cannot
// explain.
func (f fitted) turnsAlone() bool {
	m := f.machine
	if len(m.feeds) != 1 || len(m.delay) < 2 {
		return false
	}
	off := math.Abs(decibels(m.loop / m.gain[m.feeds[0]]))
	return f.bright() && off < sameGain || f.beyond() > unlikeSources && off < likeGain
}

// lacksDirect refuses a fit whose first sound is an echo by all that can be told.
func (f fitted) lacksDirect() error {
	if !f.turnsAlone() {
		return nil
	}
	var others []int
	for k := range f.machine.delay {
		if k != f.machine.feeds[0] {
			others = append(others, k)
		}
	}
	return &Refusal{Reason: NoDirect, Detail: fmt.Sprintf(
		"the loop of %.1f ms gives back as much of the first sound as of its repeats, as if it were a repeat itself; the other heads stand %s after the first one",
		1000*f.machine.delay[f.machine.feeds[0]], f.heads(others))}
}

// mayLackDirect is the doubt where no heads were named, so that none is missed.
func (f fitted) mayLackDirect() []Warning {
	top := f.figures()[2*len(f.machine.delay)]
	if top < asLoud || !f.echoesAlone() {
		return nil
	}
	return []Warning{{
		What: fmt.Sprintf("the loudest echo lies at %+.1f dB to what seems to be the direct sound and is as bright: that may be an echo too, and the delays only the distances from it", top),
		Do:   "make sure that the direct sound was recorded, and name the heads that were on",
	}}
}
