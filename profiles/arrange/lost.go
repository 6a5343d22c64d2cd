package arrange

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"echowright/preset"
	"echowright/profiles"
)

// missing tells why not all is there, and head by head which echoes are not.
func (t *telling) missing(k *deck, w *wish, pairs []pair, extra bool) {
	var lost []string
	for _, tap := range w.taps {
		lost = append(lost, lostOf(tap.Head, pairs)...)
	}
	needed, have, what := w.lines(), len(k.device.Lines), "lines"
	if k.tapped {
		needed, have, what = w.tapsNeeded(), k.taps(), "taps"
	}
	gaps := len(lost) > 0 || extra
	switch {
	case gaps && k.tapped && k.device.Lines[0].Loop.From == profiles.LoopSum:
		t.say("%s: the device feeds back all of its taps together, so these repeats can only be come near to", w.describe())
	case len(w.returns) > 1 && (gaps || !k.tapped):
		t.say("%s: the device feeds back only one of them, so these repeats can only be come near to", w.describe())
	case needed > have && gaps:
		t.say("%s %s, the device has %d: what is heard least is given up", w.describe(), takes(len(w.taps), needed, what), have)
	}
	*t = append(*t, lost...)
}

// lostOf says which echoes of a head are missing.
func lostOf(head int, pairs []pair) []string {
	var lost []string
	var gone []preset.Echo
	repeats := 0
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
			gone = append(gone, p.wanted)
		}
	}
	switch {
	case len(gone) == 0:
	case len(gone) == repeats:
		lost = append(lost, fmt.Sprintf("the repeats of head %d (from %s) are missing", head, at(gone[0])))
	default:
		lost = append(lost, fmt.Sprintf("%d of the %d repeats of head %d are missing, the loudest at %s", len(gone), repeats, head, at(loudest(gone))))
	}
	return lost
}

func (t *telling) extra(extra []preset.Echo) {
	if len(extra) > 0 {
		t.say("the device adds %s that nothing asked for, the loudest at %s", echoes(len(extra)), at(loudest(extra)))
	}
}

func (t *telling) signs(pairs []pair) {
	var turned []preset.Echo
	for _, p := range pairs {
		if p.got != nil && p.got.Inverted != p.wanted.Inverted {
			turned = append(turned, p.wanted)
		}
	}
	if len(turned) > 0 {
		t.say("%s of the wrong polarity, the loudest at %s", echoes(len(turned)), at(loudest(turned)))
	}
}

func loudest(train []preset.Echo) preset.Echo {
	return slices.MaxFunc(train, func(a, b preset.Echo) int {
		switch {
		case a.Level < b.Level:
			return -1
		case a.Level > b.Level:
			return 1
		}
		return 0
	})
}

// lines is how many lines the whole pattern takes, all times within reach and the
// loop fed by one head that does not turn the sign; otherwise 0: not known.
func (w *wish) lines() int {
	switch {
	case len(w.returns) == 0:
		return len(w.taps)
	case len(w.returns) > 1 || w.returns[0].Inverted:
		return 0
	}
	r, first := w.returns[0], w.taps[0]
	fromInput, fromHead := 1, 2
	for i, tap := range w.taps {
		if tap.Head != r.Head {
			fromInput += linesOf(tap, r.Delay)
		}
		if i > 0 {
			fromHead += linesOf(tap, r.Delay+first.Delay)
		}
	}
	if _, heard := w.heard(r.Head); heard {
		return fromInput
	}
	return min(fromInput, fromHead)
}

// linesOf: a head later than the loop's first echo has one line, others two.
func linesOf(tap preset.Tap, loop preset.Millis) int {
	if tap.Delay > loop {
		return 1
	}
	return 2
}

func (w *wish) describe() string {
	words := fmt.Sprintf("%d heads", len(w.taps))
	if len(w.taps) == 1 {
		words = "1 head"
	}
	if len(w.returns) == 0 {
		return words
	}
	var from []int
	for _, r := range w.returns {
		from = append(from, r.Head)
	}
	slices.Sort(from)
	numbers := make([]string, len(from))
	for i, n := range from {
		numbers[i] = fmt.Sprint(n)
	}
	if last := len(numbers) - 1; last > 0 {
		return words + " with the loop from heads " + strings.Join(numbers[:last], ", ") + " and " + numbers[last]
	}
	return words + " with the loop from head " + numbers[0]
}

func takes(heads, n int, what string) string {
	if heads == 1 {
		return fmt.Sprintf("takes %d %s", n, what)
	}
	return fmt.Sprintf("take %d %s", n, what)
}

// tapsNeeded is how many taps on one memory the whole pattern takes: one for each
// head, and one more for a loop from a head that is not heard.
func (w *wish) tapsNeeded() int {
	n := len(w.taps)
	for _, r := range w.returns {
		if _, heard := w.heard(r.Head); !heard {
			n++
		}
	}
	return n
}

// taps is how many the device has in all.
func (k *deck) taps() int {
	n := 0
	for _, l := range k.device.Lines {
		n += len(l.Taps)
	}
	return n
}

func ms(v preset.Millis) string   { return fmt.Sprintf("%.5g ms", math.Round(float64(v)*10)/10) }
func db(v preset.Decibels) string { return fmt.Sprintf("%.1f dB", float64(v)) }
func at(e preset.Echo) string     { return ms(e.At) + ", " + db(e.Level) }

func echoes(n int) string {
	if n == 1 {
		return "1 echo"
	}
	return fmt.Sprintf("%d echoes", n)
}
