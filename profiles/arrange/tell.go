package arrange

import (
	"fmt"
	"math"
	"strings"

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

// tell says in words what is given up or rounded, the gravest first.
func (k *deck) tell(w *wish, made draft, r Result, pairs []pair, extra []preset.Echo) []string {
	var t telling
	t.refusal(w)
	t.reach(k, w)
	missing := t.missing(k, w, pairs)
	t.approximation(w, missing, extra)
	t.signs(pairs)
	t.rounding(pairs)
	t.loops(w, made)
	t.timbres(k, made, r)
	t.extra(extra)
	t.direct(k, w, made, r)
	return t
}

type telling []string

func (t *telling) say(format string, args ...any) { *t = append(*t, fmt.Sprintf(format, args...)) }

func ms(v preset.Millis) string    { return fmt.Sprintf("%.5g ms", math.Round(float64(v)*10)/10) }
func db(v preset.Decibels) string  { return fmt.Sprintf("%.1f dB", float64(v)) }
func at(e preset.Echo) string      { return ms(e.At) + ", " + db(e.Level) }
func heads(numbers []int) string   { return list("head", numbers) }
func lines(n int) string           { return count(n, "line") }
func count(n int, w string) string { return fmt.Sprintf("%d %s%s", n, w, plural(n)) }

func plural(n int) string {
	if n == 1 {
		return ""
	}
	return "s"
}

func echoes(n int) string {
	if n == 1 {
		return "1 echo"
	}
	return fmt.Sprintf("%d echoes", n)
}

func list(word string, numbers []int) string {
	words := make([]string, len(numbers))
	for i, n := range numbers {
		words[i] = fmt.Sprint(n)
	}
	if len(words) > 1 {
		last := len(words) - 1
		words = append(words[:last-1], words[last-1]+" and "+words[last])
	}
	return word + plural(len(numbers)) + " " + strings.Join(words, ", ")
}

func (t *telling) refusal(w *wish) {
	if !w.refused {
		return
	}
	longest := preset.Millis(0)
	for _, r := range w.returns {
		longest = max(longest, r.Delay)
	}
	rings := longest.Seconds() * float64(preset.TrainFloor/safeLoop)
	t.say("caution: the loop asked for has %+.1f dB a turn, and from 0 dB on echoes grow without end: refused; planned with %s a turn instead, which still rings for about %.0f s",
		float64(w.asked), db(safeLoop), rings)
}

// reach tells of what the length of the lines or the softest level puts out of reach.
func (t *telling) reach(k *deck, w *wish) {
	for _, tap := range w.taps {
		if tap.Level < preset.TrainFloor {
			t.say("head %d (%s) is left out: what lies below %s is not planned", tap.Head, db(tap.Level), db(preset.TrainFloor))
		}
	}
	if len(w.returns) > 0 && k.feedback == nil {
		t.say("the device's lines have no feedback: a loop cannot be had, only single repeats")
		return
	}
	for _, r := range w.returns {
		if r.Delay > k.longest {
			t.say("the loop from head %d takes %s, the device's longest line %s: only its first repeats can be had, by chains of lines", r.Head, ms(r.Delay), ms(k.longest))
		}
	}
}

// missing tells, head by head, which wanted echoes are not there, and why.
func (t *telling) missing(k *deck, w *wish, pairs []pair) bool {
	var lost []string
	for _, tap := range w.taps {
		lost = append(lost, lostOf(tap.Head, pairs)...)
	}
	if len(lost) == 0 {
		return false
	}
	needed, have := w.lines(), len(k.device.Lines)
	why := "too far for its lines"
	if needed > have {
		why = fmt.Sprintf("%s %s, the device has %d", w.describe(), needs(needed), have)
	} else if w.approximate() {
		why = w.describe() + " cannot be had exactly"
	}
	for _, l := range lost {
		t.say("%s: %s", l, why)
	}
	return true
}

func needs(n int) string { return "need " + lines(n) }

// lostOf says which echoes of a head are missing.
func lostOf(head int, pairs []pair) []string {
	var lost []string
	var repeats, gone int
	var loudest preset.Echo
	for _, p := range pairs {
		if p.wanted.Head != head {
			continue
		}
		if p.wanted.Turn > 0 {
			repeats++
		}
		switch {
		case p.got != nil:
		case p.wanted.Turn == 0:
			lost = append(lost, fmt.Sprintf("head %d (%s) is missing", head, at(p.wanted)))
		default:
			if gone++; gone == 1 || p.wanted.Level > loudest.Level {
				loudest = p.wanted
			}
		}
	}
	switch {
	case gone == 0:
	case gone == repeats:
		lost = append(lost, fmt.Sprintf("the repeats of head %d (from %s) are missing", head, at(loudest)))
	default:
		lost = append(lost, fmt.Sprintf("%d of %s of head %d are missing, the loudest at %s", gone, count(repeats, "repeat"), head, at(loudest)))
	}
	return lost
}

// lines is how many lines the whole pattern takes, all times within reach; 0 if
// no number of lines gives it by the ways that are known.
func (w *wish) lines() int {
	n := len(w.taps)
	if len(w.returns) == 0 {
		return n
	}
	if w.approximate() {
		return 0
	}
	r, first := w.returns[0], w.taps[0]
	fromInput, fromHead := 1, 2
	for i, tap := range w.taps {
		switch {
		case tap.Head == r.Head:
		case tap.Delay > r.Delay:
			fromInput++
		default:
			fromInput += 2
		}
		switch {
		case i == 0:
		case tap.Delay > r.Delay+first.Delay:
			fromHead++
		default:
			fromHead += 2
		}
	}
	if _, heard := w.heard(r.Head); heard {
		return fromInput
	}
	return min(fromInput, fromHead)
}

// approximate reports whether lines that feed back only themselves, without a
// sign, cannot do the loop by the simple ways.
func (w *wish) approximate() bool {
	return len(w.returns) > 1 || len(w.returns) == 1 && w.returns[0].Inverted
}

func (w *wish) describe() string {
	words := count(len(w.taps), "head")
	if len(w.returns) == 0 {
		return words
	}
	from := make([]int, len(w.returns))
	for i, r := range w.returns {
		from[i] = r.Head
	}
	turned := ""
	if w.returns[0].Inverted {
		turned = " that turns the polarity"
	}
	return words + " with a loop" + turned + " from " + heads(from)
}

func (t *telling) approximation(w *wish, missing bool, extra []preset.Echo) {
	if len(w.returns) > 1 && !missing {
		t.say("%s: a line feeds back only itself, so the repeats come near but are not the same", w.describe())
	}
}

func (t *telling) signs(pairs []pair) {
	n := 0
	var loudest preset.Echo
	for _, p := range pairs {
		if p.got == nil || p.got.Inverted == p.wanted.Inverted {
			continue
		}
		if n++; n == 1 || p.wanted.Level > loudest.Level {
			loudest = p.wanted
		}
	}
	if n > 0 {
		t.say("%s of the wrong polarity, the loudest at %s", echoes(n), at(loudest))
	}
}

// rounding tells of the echo that is worst in time, and of that worst in level.
func (t *telling) rounding(pairs []pair) {
	var late, loud pair
	var byTime preset.Millis
	var byLevel preset.Decibels
	for _, p := range pairs {
		if p.got == nil {
			continue
		}
		if off := preset.Millis(math.Abs(float64(p.got.At - p.wanted.At))); off > byTime {
			byTime, late = off, p
		}
		if off := preset.Decibels(math.Abs(float64(p.got.Level - p.wanted.Level))); off > byLevel {
			byLevel, loud = off, p
		}
	}
	if byTime > tellTime {
		t.say("times are up to %.2f ms off: at %.2f ms in place of %.2f ms", float64(byTime), float64(late.got.At), float64(late.wanted.At))
	}
	if byLevel > tellLevel {
		t.say("levels are up to %.1f dB off: %s in place of %s at %s", float64(byLevel), db(loud.got.Level), db(loud.wanted.Level), ms(loud.wanted.At))
	}
}

// loops tells of a loop that is weaker than the pattern's.
func (t *telling) loops(w *wish, made draft) {
	for _, r := range w.returns {
		for _, p := range made.lines {
			if p.voice.loop != r.Gain.Amplitude() || p.voice.delay != r.Delay {
				continue
			}
			switch gain := preset.FromAmplitude(p.gain); {
			case p.gain == 0:
				t.say("the loop of %s a turn is weaker than the least feedback of the device: there are no repeats", db(r.Gain))
			case r.Gain-gain > tellLoop:
				t.say("the loop has %.2f dB a turn in place of %.2f dB: the next feedback would be more than asked", float64(gain), float64(r.Gain))
			}
			break
		}
	}
}

// timbres tells of lines that sound duller or brighter than their head.
func (t *telling) timbres(k *deck, made draft, r Result) {
	for i, p := range made.lines {
		line := k.device.Lines[i]
		off := p.given.minus(p.voice.timbre)
		if off.off() < tellTimbre || k.device.Amplitude(line.Parameter(profiles.RoleLevel), r.Setting) == 0 {
			continue
		}
		worst := 0
		for b := range off {
			if math.Abs(off[b]) > math.Abs(off[worst]) {
				worst = b
			}
		}
		t.say("the tone of line %s (from %s) is off by %+.1f dB at %.4g Hz: its cuts reach no further, or its source has lost that already",
			line.Name, ms(p.at), off[worst], float64(bands[worst]))
	}
}

func (t *telling) extra(extra []preset.Echo) {
	if len(extra) == 0 {
		return
	}
	loudest := extra[0]
	for _, e := range extra {
		if e.Level > loudest.Level {
			loudest = e
		}
	}
	t.say("the device adds %s that nothing asked for, the loudest at %s", echoes(len(extra)), at(loudest))
}

func (t *telling) direct(k *deck, w *wish, made draft, r Result) {
	wanted, got := r.Direct.Wanted, r.Direct.Got
	top := preset.Decibels(0)
	switch {
	case wanted == nil:
		t.say("how loud the direct sound of the unit is beside its echoes is not known: it is planned as loud as the loudest head")
	case got == nil:
		t.say("the device has no level for the direct sound: mix it so that the loudest head lies %+.1f dB above it", float64(*wanted))
	case math.Abs(float64(*got-*wanted)) > float64(tellDirect):
		t.say("echo to direct is %s in place of %s", db(*got), db(*wanted))
	}
	if wanted != nil {
		top = min(top, *wanted)
	}
	if made.shift < top-mostLower-lowerStep {
		t.say("all levels lie %s lower than the unit's: a line that makes up for its cuts would be above 0 dB otherwise", db(top-made.shift))
	}
}
