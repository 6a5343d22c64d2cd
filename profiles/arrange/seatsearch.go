package arrange

import (
	"cmp"
	"math"
	"slices"

	"echowright/preset"
	"echowright/profiles"
)

// A tapSearch looks for the seating of the least error.
type tapSearch struct {
	hall  *hall
	wish  *wish
	ear   *ear
	each  float64 // the most that one way round a loop may have, an amplitude ratio
	limit float64 // and all ways round it together
}

func newTapSearch(k *deck, w *wish) *tapSearch {
	return &tapSearch{hall: newHall(k), wish: w, ear: newEar(w), each: w.loopLimit(), limit: w.loopSum()}
}

// How many seatings are improved seat by seat, and how many of those are polished;
// and the work of the ear by when enough are begun with, improved, and polished.
// (Where every code is tried, ten times that.)
const (
	mostSeatings = 4
	startWork    = 700_000
	seatWork     = 2_200_000
	finishWork   = 3_000_000
)

// enough reports whether the ear has done so much.
func (x *tapSearch) enough(work int) bool {
	if x.hall.deck.coarse {
		work *= 10
	}
	return x.ear.work > work
}

func (x *tapSearch) best() seating {
	var all []seating
	for _, base := range x.bases() {
		for _, s := range x.starts(x.hall.empty(base)) {
			if len(all) > 0 && x.enough(startWork) {
				break
			}
			x.fit(&s, math.Inf(1))
			all = append(all, s)
		}
	}
	sortSeatings(all)
	if one, ok := x.whole(all[0]); ok {
		return one
	}
	if x.hall.deck.coarse {
		for _, base := range x.bases() {
			all = append(all, x.grown(x.hall.empty(base))...)
		}
	}
	sortSeatings(all)
	all = all[:min(len(all), 4*mostSeatings)]
	for i := range all {
		if all[0].cost > onlyRounding || x.hall.deck.coarse {
			all[i] = x.improved(all[i], startWork+(seatWork-startWork)*(i+1)/len(all))
		}
	}
	sortSeatings(all)
	most := mostSeatings
	if x.hall.deck.coarse {
		most *= 4
	}
	var done []seating
	for i, s := range all[:min(len(all), most)] {
		if i > 0 && x.enough(finishWork) {
			break
		}
		done = append(done, x.finished(s, mostLower))
		if x.hall.deck.coarse {
			done = append(done, x.finished(s, 0))
		} else if done[len(done)-1].cost < onlyRounding {
			break
		}
	}
	sortSeatings(done)
	return done[0]
}

// nearWhole is an error (−13 dB) from which a seating may be whole but for codes that
// are not turned yet.
const nearWhole = 0.05

// whole is the seating with its knobs turned, if it then plays every echo and none
// besides: all that is left is rounding, and no seat is spent on mending that. (Where
// every code is tried, what rounding leaves is mended too.)
func (x *tapSearch) whole(s seating) (seating, bool) {
	if x.hall.deck.coarse || s.cost > nearWhole {
		return s, false
	}
	s = x.finished(s, mostLower)
	got, err := x.hall.deck.listen(draft{setting: s.setting, shift: s.shift}, x.wish.limit)
	if err != nil {
		return s, false
	}
	pairs, extra := match(x.wish.train, got)
	lost := slices.ContainsFunc(pairs, func(p pair) bool { return p.got == nil })
	return s, !lost && len(extra) == 0
}

// starts are the seatings to begin with: for each loop the device could have, the
// loudest heads at their places.
func (x *tapSearch) starts(empty seating) []seating {
	var all []seating
	for _, loops := range x.loops(empty) {
		s := empty.clone()
		copy(s.loops, loops)
		x.seatLoops(&s)
		for _, t := range x.wish.loudest(len(x.hall.seats)) {
			x.seatHead(&s, t)
		}
		all = append(all, s)
	}
	return all
}

// seatLoops gives each loop its tap.
func (x *tapSearch) seatLoops(s *seating) {
	for _, l := range s.loops {
		if l.gain > 0 && l.tap != none {
			s.places[l.tap] = l.place
		}
	}
}

// seatHead gives a head the seat that is at its place already, or the first free one
// of a line that repeats it, or of any.
func (x *tapSearch) seatHead(s *seating, t preset.Tap) {
	h := x.hall
	free := none
	for i := range h.seats {
		place := h.nearest(*s, i, t.Delay)
		switch {
		case place == none:
		case s.places[i] == place:
			s.inverted[i] = t.Inverted
			return
		case s.places[i] == none && (free == none || s.loops[h.seats[i].line].gain > s.loops[h.seats[free].line].gain):
			free = i
		}
	}
	if free != none {
		s.places[free], s.inverted[free] = h.nearest(*s, free, t.Delay), t.Inverted
	}
}

// loops lists what the lines' loops may be: none, and each of the pattern's; where
// codes are few, whatever there is.
func (x *tapSearch) loops(s seating) [][]loopUse {
	one := x.lineLoops(s, 0)
	all := [][]loopUse{}
	for _, l := range one {
		all = append(all, []loopUse{l})
	}
	for line := 1; line < len(x.hall.deck.device.Lines); line++ {
		var next [][]loopUse
		for _, before := range all {
			for _, l := range x.lineLoops(s, line) {
				next = append(next, append(slices.Clone(before), l))
			}
		}
		all = next[:min(len(next), 64)]
	}
	return all
}

func (x *tapSearch) lineLoops(s seating, line int) []loopUse {
	h, k := x.hall, x.hall.deck
	rest := loopUse{tap: none, cut: k.nearestCut(x.headTimbre())}
	l := k.device.Lines[line]
	if k.feedback == nil || !l.Has(profiles.RoleFeedback) || len(x.wish.returns) == 0 {
		return []loopUse{rest}
	}
	first := slices.IndexFunc(h.seats, func(one seat) bool { return one.line == line })
	if l.Loop.From == profiles.LoopSum {
		return append([]loopUse{rest}, x.sumLoops(rest)...)
	}
	tap := first + max(0, l.Loop.Tap)
	var places []int
	for _, r := range x.wish.returns[:min(mostLoops, len(x.wish.returns))] {
		places = append(places, h.nearest(s, tap, r.Delay))
	}
	if len(h.seats[tap].raw) <= fewTimes {
		places = upTo(len(h.seats[tap].raw))
	}
	pairs := k.loops(x.loopTimbre(), x.each)
	if len(pairs) == 0 {
		return []loopUse{rest}
	}
	pair := pairs[0]
	var all []loopUse
	for _, code := range x.feedbacks(l, pair) {
		for _, place := range places {
			if place != none {
				gain := k.feedback[k.feedback.place(code)].value * pair.cut.left
				all = append(all, loopUse{place: place, tap: tap, code: code, gain: gain, cut: pair.cut})
			}
		}
	}
	return append(x.turnLoops(all), rest)
}

// feedbacks is the code nearest to the loop gain, or, where codes are few, every one
// that may be of use.
func (x *tapSearch) feedbacks(l profiles.Line, pair loop) []int {
	if len(x.hall.deck.feedback) > fewFeedbacks {
		return []int{pair.code}
	}
	var codes []int
	for _, r := range x.hall.deck.feedback {
		if r.value > 0 && (l.Loop.After || withinLimit(r.value*pair.cut.left, x.each)) {
			codes = append(codes, r.code)
		}
	}
	return codes
}

// turnLoops gives loops the sign of the pattern's, where the device has it.
func (x *tapSearch) turnLoops(all []loopUse) []loopUse {
	k := x.hall.deck
	if len(k.turned) == 0 || !x.wish.returns[0].Inverted {
		return all
	}
	for i, l := range all {
		if place := k.turned.atMost(l.gain / l.cut.left * (1 + 1e-12)); place >= 0 {
			all[i].code, all[i].gain, all[i].turned = k.turned[place].code, k.turned[place].value*l.cut.left, true
		}
	}
	return all
}

// sumLoops are some strengths of a loop from the sum of all taps, up to the pattern's.
func (x *tapSearch) sumLoops(rest loopUse) []loopUse {
	k := x.hall.deck
	limit := x.limit / rest.cut.left
	var all []loopUse
	if len(k.feedback) <= fewFeedbacks {
		for _, r := range k.feedback[1:] {
			l := rest
			l.code, l.gain = r.code, r.value
			all = append(all, l)
		}
		return all
	}
	for _, share := range []float64{1, 0.85, 0.7, 0.5, 0.35, 0.2, 0.1} {
		if place := k.feedback.atMost(limit * share); place > 0 {
			l := rest
			l.code, l.gain = k.feedback[place].code, k.feedback[place].value
			all = append(all, l)
		}
	}
	return all
}

func (x *tapSearch) headTimbre() timbre {
	t := x.wish.loudest(1)
	return timbreOf(t[0].Tone)
}

func (x *tapSearch) loopTimbre() timbre { return timbreOf(x.wish.returns[0].Tone) }

// bases are the settings of what times are a share of: at rest where there is no
// such thing, or the few codes for which heads and loops come nearest to the steps.
func (x *tapSearch) bases() []profiles.Setting {
	d := x.hall.deck.device
	rest := d.Rest()
	var shared []int
	for _, s := range x.hall.seats {
		if of := d.Parameters[s.time].Of; of >= 0 && !slices.Contains(shared, of) {
			shared = append(shared, of)
		}
	}
	if len(shared) == 0 {
		return []profiles.Setting{rest}
	}
	type rated struct {
		set profiles.Setting
		off float64
	}
	var all []rated
	for c := d.Parameters[shared[0]].Scale.Low; c <= d.Parameters[shared[0]].Scale.High(); c++ {
		set := rest.Clone()
		for _, of := range shared {
			if !d.Parameters[of].Scale.Holds(c) {
				continue
			}
			set.Codes[of] = c
		}
		if off := x.misses(set); !math.IsInf(off, 0) {
			all = append(all, rated{set, off})
		}
	}
	slices.SortStableFunc(all, func(a, b rated) int { return cmp.Compare(a.off, b.off) })
	const most = 6
	var sets []profiles.Setting
	for _, r := range all[:min(most, len(all))] {
		sets = append(sets, r.set)
	}
	if len(sets) == 0 {
		return []profiles.Setting{rest}
	}
	return sets
}

// misses is how far heads and ways round the loop lie from the steps of the first
// seat, late repeats counting more.
func (x *tapSearch) misses(set profiles.Setting) float64 {
	one := x.hall.seats[0]
	share := x.hall.share(one, set)
	if !(share > 0) {
		return math.Inf(1)
	}
	off := func(at preset.Millis) float64 {
		v := one.raw[one.raw.nearest(float64(at)/share)].value * share
		return v - float64(at)
	}
	sum := 0.0
	for _, t := range x.wish.taps {
		sum += math.Pow(t.Level.Amplitude()*off(t.Delay), 2)
	}
	for _, r := range x.wish.returns {
		sum += math.Pow(3*off(r.Delay), 2)
	}
	return sum
}
