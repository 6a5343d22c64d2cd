package arrange

import (
	"fmt"
	"math"

	"echowright/preset"
	"echowright/profiles"
)

// What is off by more than this is told.
const (
	tellTime   preset.Millis   = 0.15
	tellLevel  preset.Decibels = 0.5
	tellLoop   preset.Decibels = 0.1
	tellDirect preset.Decibels = 0.3
	tellTimbre                 = 1.0 // dB, root mean square over the octaves
)

// A telling is what is given up or rounded, in words.
type telling []string

func (t *telling) say(format string, args ...any) { *t = append(*t, fmt.Sprintf(format, args...)) }

// tell goes from what is refused and missing to what is only rounded.
func (k *deck) tell(w *wish, made draft, r Result, pairs []pair, extra []preset.Echo) []string {
	t := telling{} // an empty list, not null, in JSON
	t.refused(w)
	t.outOfReach(k, w)
	t.missing(k, w, pairs, len(extra) > 0)
	t.extra(extra)
	t.signs(pairs)
	t.rounding(pairs)
	t.loops(k, w, made)
	t.timbres(k, made)
	t.direct(w, r)
	t.lowered(w, made)
	return t
}

func (t *telling) refused(w *wish) {
	if !w.refused {
		return
	}
	longest := preset.Millis(0)
	for _, r := range w.returns {
		longest = max(longest, r.Delay)
	}
	rings := longest.Seconds() * float64(preset.TrainFloor/safeLoop)
	t.say("caution: the loop asked for has %+.1f dB a turn, and from 0 dB on echoes grow without end: refused; planned with %s in place of it, which still rings for about %.0f s",
		float64(w.asked), db(safeLoop), rings)
}

// outOfReach tells of times, loops and levels that no line has.
func (t *telling) outOfReach(k *deck, w *wish) {
	for _, tap := range w.taps {
		if tap.Level < preset.TrainFloor {
			t.say("head %d (%s, %s) is left out: what lies below %s is not planned", tap.Head, ms(tap.Delay), db(tap.Level), db(preset.TrainFloor))
		}
		if tap.Delay > k.longest {
			way := "it takes a chain of lines"
			if !k.sources {
				way = "nothing reaches it"
			}
			t.say("head %d (%s) lies beyond the longest %s (%s): %s", tap.Head, ms(tap.Delay), k.carrier(), ms(k.longest), way)
		}
	}
	if len(w.returns) == 0 {
		return
	}
	if k.feedback == nil {
		t.say("the device's lines have no feedback: the loop cannot go on by itself")
		return
	}
	least := float64(preset.FromAmplitude(k.feedback.audible()))
	for _, r := range w.returns {
		if r.Delay > k.longest {
			t.say("the loop from head %d (%s) is longer than the longest %s (%s): it cannot go on by itself", r.Head, ms(r.Delay), k.carrier(), ms(k.longest))
		}
		if float64(r.Gain) < least {
			t.say("the loop from head %d (%s a turn) is weaker than the least feedback (%s): it cannot go on by itself", r.Head, db(r.Gain), db(preset.Decibels(least)))
		}
	}
}

// carrier is what a delay is made by.
func (k *deck) carrier() string {
	if k.tapped {
		return "tap"
	}
	return "line"
}

// rounding tells of the echo that is worst in time, and of that worst in level.
func (t *telling) rounding(pairs []pair) {
	var late, loud pair
	var byTime, byLevel float64
	for _, p := range pairs {
		if p.got == nil {
			continue
		}
		if off := math.Abs(float64(p.got.At - p.wanted.At)); off > byTime {
			byTime, late = off, p
		}
		if off := math.Abs(float64(p.got.Level - p.wanted.Level)); off > byLevel {
			byLevel, loud = off, p
		}
	}
	if byTime > float64(tellTime) {
		t.say("times are up to %.2f ms off: an echo comes at %.2f ms in place of %.2f ms", byTime, float64(late.got.At), float64(late.wanted.At))
	}
	if byLevel > float64(tellLevel) {
		t.say("levels are up to %.1f dB off: the echo at %s has %s in place of %s", byLevel, ms(loud.wanted.At), db(loud.got.Level), db(loud.wanted.Level))
	}
}

// loops tells of a loop that is weaker than the pattern's.
func (t *telling) loops(k *deck, w *wish, made draft) {
	for _, p := range made.lines {
		for _, r := range w.returns {
			gain := preset.FromAmplitude(p.gain)
			if p.gain == 0 || p.loop != r.Gain.Amplitude() || r.Gain-gain <= tellLoop || p.time != k.time[k.time.nearest(float64(r.Delay))].code {
				continue
			}
			why := "the next step would be more than asked"
			if preset.FromAmplitude(p.loop/p.cut.left) > unity {
				why = "no feedback makes up for what its cuts take"
			}
			t.say("the loop from head %d has %.2f dB a turn in place of %.2f dB: %s", r.Head, float64(gain), float64(r.Gain), why)
		}
	}
}

// timbres tells of lines that sound duller or brighter than their head.
func (t *telling) timbres(k *deck, made draft) {
	for i, p := range made.lines {
		line := k.device.Lines[i]
		off := p.given.minus(p.timbre)
		if off.off() < tellTimbre || k.device.Amplitude(line.Parameter(profiles.RoleLevel), made.setting) == 0 {
			continue
		}
		worst := 0
		for b := range off {
			if math.Abs(off[b]) > math.Abs(off[worst]) {
				worst = b
			}
		}
		t.say("the tone of line %s (from %s on) is %+.1f dB off at %.4g Hz against 1 kHz: its cuts reach no further, or what is fed to it has lost that already",
			line.Name, ms(p.at), off[worst], float64(bands[worst]))
	}
}

func (t *telling) direct(w *wish, r Result) {
	wanted, got := r.Direct.Wanted, r.Direct.Got
	switch {
	case wanted == nil:
		t.say("how loud the unit's direct sound is beside its echoes is not known: it is planned as loud as the loudest head")
	case got == nil:
		t.say("the device has no level for the direct sound: mix it so that the loudest head lies %+.1f dB above it", float64(*wanted))
	case math.Abs(float64(*got-*wanted)) > float64(tellDirect):
		t.say("echo to direct is %s in place of %s", db(*got), db(*wanted))
	}
}

func (t *telling) lowered(w *wish, made draft) {
	top := w.topShift()
	if made.shift < top-mostLower-lowerStep {
		t.say("all levels lie %s lower than they could: a line that makes up for its cuts would be above 0 dB otherwise", db(top-made.shift))
	}
}
