package arrange

import (
	"math"
	"slices"

	"echowright/preset"
)

// How many codes a ladder may have for all of them to be tried on a line.
const (
	fewTimes     = 64
	fewFeedbacks = 16
)

// rearranged puts lines to other uses, one at a time, all levels found anew, as
// long as the error falls.
func (x *search) rearranged(d draft) draft {
	lines := len(x.deck.device.Lines)
	for idle, i := 0, 0; idle < lines && !x.tired() && d.cost > x.deck.roundingCost(); i++ {
		idle++
		if better, ok := x.replaced(d, i%lines); ok {
			d, idle = better, 0
		}
	}
	return d
}

// replaced is the draft with the best use for one of its lines, or for one more.
func (x *search) replaced(d draft, line int) (draft, bool) {
	best, found := d, false
	for _, v := range x.uses(d, line) {
		if x.tired() {
			break
		}
		if next := d.with(line, v); x.fit(&next, best.cost*better) {
			best, found = next, true
		}
	}
	return best, found
}

// with is the draft with another voice on one of its lines, or on one more.
func (d draft) with(line int, v voice) draft {
	next := draft{lines: slices.Clone(d.lines), finer: d.finer}
	if line == len(d.lines) {
		next.lines = append(next.lines, v)
	} else {
		next.lines[line] = v
	}
	return next
}

// How many drafts are followed up from line to line where every code is tried.
const grownBreadth = 64

// grown builds drafts line by line from every use that a line has: for devices so
// coarse that these are few.
func (x *search) grown() []draft {
	var all []draft
	level := []draft{{cost: math.Inf(1)}}
	for range x.deck.device.Lines {
		var next []draft
		for _, d := range level {
			for _, v := range x.uses(d, len(d.lines)) {
				if one := d.with(len(d.lines), v); !x.tired() && x.fit(&one, math.Inf(1)) {
					next = append(next, one)
				}
			}
		}
		sortDrafts(next)
		level = next[:min(grownBreadth, len(next))]
		all = append(all, level[:min(mostRearranged, len(level))]...)
	}
	sortDrafts(all)
	return all
}

// How many uses of a line that make the error greater by themselves are followed up.
const mostDetours = 12

// detoured looks for a better draft behind a worse one: a line is put to each of
// the uses that come nearest, and the others are rearranged around it.
func (x *search) detoured(d draft) draft {
	lines := len(x.deck.device.Lines)
	for idle, i := 0, 0; idle < lines && !x.tired(); i++ {
		idle++
		var near []draft
		for _, v := range x.uses(d, i%lines) {
			if next := d.with(i%lines, v); !x.tired() && x.fit(&next, math.Inf(1)) && !next.same(d) {
				near = append(near, next)
			}
		}
		sortDrafts(near)
		for _, next := range near[:min(mostDetours, len(near))] {
			if next = x.rearranged(next); next.cost < d.cost*better {
				d, idle = next, 0
			}
		}
	}
	return d
}

// uses lists what a line could play beside the others.
func (x *search) uses(d draft, line int) []voice {
	k := x.deck
	if line > len(d.lines) {
		return nil
	}
	sources := []int{none}
	for i := range d.lines {
		if k.sources && !feeds(d.lines, line, i) {
			sources = append(sources, i)
		}
	}
	var all []voice
	for _, source := range sources {
		at := voice{left: 1}
		if source != none {
			at = d.lines[source]
		}
		for _, place := range x.placesBehind(at) {
			v := voice{source: source, first: at.at + preset.Millis(k.time[place].value), makeshift: true}
			x.resemble(&v)
			all = append(all, k.play(v, at))
			if limit := x.wish.loopLimit(); limit > 0 && k.feedback != nil {
				v.loop = limit
				all = append(all, k.playLoops(v, at)...)
			}
		}
	}
	return all
}

// feeds reports whether line a is line b, or what b hears comes from it.
func feeds(lines []voice, a, b int) bool {
	for b != none && b < len(lines) {
		if a == b {
			return true
		}
		b = lines[b].source
	}
	return false
}

// placesBehind lists the times for which a line behind a source may be of use: all,
// where they are few, or those at which it plays what is wanted.
func (x *search) placesBehind(source voice) []int {
	k := x.deck
	if len(k.time) <= fewTimes {
		return upTo(len(k.time))
	}
	var places []int
	add := func(d preset.Millis) {
		if d > 0 && d <= k.longest {
			places = append(places, k.time.nearest(float64(d)))
		}
	}
	for _, t := range x.wish.taps {
		add(t.Delay)
		add(t.Delay - source.at)
		for _, r := range x.wish.returns {
			add(t.Delay + r.Delay - source.at)
		}
	}
	for _, r := range x.wish.returns {
		add(r.Delay)
	}
	slices.Sort(places)
	return slices.Compact(places)
}

// resemble gives a voice the sign and the timbre of the head that plays when it
// begins, or of the repeats of the one that comes nearest.
func (x *search) resemble(v *voice) {
	nearest := preset.Millis(1e9)
	for _, t := range x.wish.taps {
		if off := max(t.Delay-v.first, v.first-t.Delay); off < nearest {
			nearest, v.timbre, v.inverted = off, timbreOf(t.Tone), t.Inverted
		}
		for _, r := range x.wish.returns {
			at := t.Delay + r.Delay
			if off := max(at-v.first, v.first-at); off < nearest {
				nearest, v.timbre, v.inverted = off, timbreOf(t.Tone).plus(timbreOf(r.Tone)), t.Inverted != r.Inverted
			}
		}
	}
}

// playLoops is a voice with every feedback that may be of use: the one nearest to
// its limit, and, where they are few, all below it.
func (k *deck) playLoops(v, source voice) []voice {
	nearest := k.play(v, source)
	if nearest.gain == 0 {
		return nil
	}
	all := []voice{nearest}
	if len(k.feedback) > fewFeedbacks {
		return all
	}
	for place := k.feedback.place(nearest.feedback) - 1; place >= 0 && k.feedback[place].value > 0; place-- {
		v := nearest
		v.feedback, v.gain = k.feedback[place].code, k.feedback[place].value*v.cut.left
		all = append(all, v)
	}
	return all
}

// How many of the pairs of feedback and cuts that come near a loop gain are tried.
const mostLoopPairs = 6

// otherLoops is the draft, and, where all that is left is rounding, the same with
// other pairs of feedback and cuts for its loops, which may suit the steps of the
// levels better.
func (x *search) otherLoops(d draft) []draft {
	all := []draft{d}
	if d.cost > 1e-3 || len(x.deck.cuts) == 1 {
		return all
	}
	return x.otherLoopsOf(d, mostLoopPairs)
}

// otherLoopsOf is the draft and the same with other pairs, so many in all.
func (x *search) otherLoopsOf(d draft, most int) []draft {
	all := []draft{d}
	for i, v := range d.lines {
		if v.gain == 0 {
			continue
		}
		source := voice{left: 1}
		if v.source != none {
			source = d.lines[v.source]
		}
		loops := x.deck.loops(v.timbre.minus(source.given), v.loop)
		for _, l := range loops[min(1, len(loops)):min(most, len(loops))] {
			next := d
			next.lines = slices.Clone(d.lines)
			next.lines[i].cut, next.lines[i].gain, next.lines[i].feedback = l.cut, l.gain, l.code
			all = append(all, next)
		}
	}
	return all
}
