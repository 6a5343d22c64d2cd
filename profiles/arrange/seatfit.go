package arrange

import (
	"math"
	"slices"
	"sort"

	"echowright/preset"
	"echowright/profiles"
)

// fit finds the levels of a seating, rounded; false if the error is not below worth.
func (x *tapSearch) fit(s *seating, worth float64) bool {
	taken := s.occupied()
	s.setting = x.hall.codes(*s)
	s.cost = 1
	if len(taken) == 0 || x.hall.deck.level == nil || x.hall.deck.device.Check(s.setting) != nil {
		s.cost = math.Inf(1)
		return false
	}
	if !x.hall.free {
		return x.fitHeads(s, taken, worth)
	}
	all, ok := x.sums(s, taken)
	if !ok {
		s.cost = math.Inf(1)
		return false
	}
	levels := all.fit(upTo(len(taken)))
	if all.cost(upTo(len(taken)), levels) >= worth {
		s.cost = math.Inf(1)
		return false
	}
	s.cost = x.round(s, all, taken, levels, x.wish.topShift())
	return s.cost < worth
}

func (x *tapSearch) sums(s *seating, taken []int) (sums, bool) {
	n, err := x.hall.deck.device.Network(s.setting)
	if err != nil {
		return sums{}, false
	}
	gains := make([]float64, len(taken))
	for i := range gains {
		gains[i] = x.hall.deck.loudest()
	}
	return x.ear.sums(n, gains)
}

// round sets the levels that are nearest, and gives what that costs.
func (x *tapSearch) round(s *seating, all sums, taken []int, levels []float64, shift preset.Decibels) float64 {
	k := x.hall.deck
	r := rounding{sums: all, ladder: k.level, louder: 1 / shift.Amplitude(), reach: anyRung}
	for _, l := range levels {
		place := k.level.nearest(l / r.louder)
		r.places = append(r.places, place)
		r.levels = append(r.levels, k.level[place].value*r.louder)
	}
	r.start = r.places
	cost := r.settle() + k.setDry(x.wish, s.setting, shift)
	for i, place := range r.places {
		s.setting.Codes[x.hall.seats[taken[i]].level] = k.level[place].code
	}
	s.shift, s.levels = shift, r.places
	return cost + lineWorth*float64(len(taken))
}

// fitHeads gives each seat the level of the head at its place; what is nobody's is
// as loud as what is wanted there.
func (x *tapSearch) fitHeads(s *seating, taken []int, worth float64) bool {
	k := x.hall.deck
	s.shift = x.wish.topShift()
	for _, i := range taken {
		level := x.levelAt(preset.Millis(x.hall.at(*s, i, s.places[i])))
		place := k.level.nearest(level * s.shift.Amplitude() / s.loops[x.hall.seats[i].line].cut.left)
		s.setting.Codes[x.hall.seats[i].level] = k.level[place].code
	}
	x.tameLoops(s)
	s.cost = x.hear(s.setting, s.shift) + lineWorth*float64(len(taken))
	return s.cost < worth
}

// levelAt is the amplitude of the echo wanted nearest to a time.
func (x *tapSearch) levelAt(at preset.Millis) float64 {
	if len(x.wish.train) == 0 {
		return 0
	}
	return x.wish.train[x.wish.nearest(at)].Level.Amplitude()
}

// tameLoops lowers feedback until every loop stays within its limit.
func (x *tapSearch) tameLoops(s *seating) {
	k := x.hall.deck
	for line := range k.device.Lines {
		f := k.device.Lines[line].Parameter(profiles.RoleFeedback)
		if f == profiles.None || k.feedback == nil || s.loops[line].gain == 0 {
			continue
		}
		if x.allowed(s.setting) {
			continue
		}
		ladder := x.hall.ladderOf(s.loops[line])
		most := max(ladder.place(s.setting.Codes[f]), 0)
		at := sort.Search(most, func(lower int) bool {
			s.setting.Codes[f] = ladder[most-1-lower].code
			return x.allowed(s.setting)
		})
		s.setting.Codes[f] = ladder[max(most-1-at, 0)].code
	}
}

// allowed reports whether no way round a memory is stronger than the pattern's, nor
// all of them together than all of the pattern's, and the setting one that the device takes.
func (x *tapSearch) allowed(set profiles.Setting) bool {
	d := x.hall.deck.device
	n, err := d.Network(set)
	if err != nil || d.Check(set) != nil {
		return false
	}
	x.ear.work += flowWork
	limit, each := x.each, x.each
	if d.Lines[0].Loop.From == profiles.LoopSum {
		limit = x.limit
	}
	sums := make([]float64, n.Nodes)
	for _, p := range n.Paths {
		if p.From == p.To {
			if p.Delay <= 0 || !withinLimit(math.Abs(p.Gain), each) {
				return false
			}
			sums[p.From] += math.Abs(p.Gain)
		}
	}
	for _, sum := range sums {
		if !withinLimit(sum, limit) {
			return false
		}
	}
	return true
}

// flowWork is about what the device's signal flow costs, in the work of an ear.
const flowWork = 200

func (x *tapSearch) hear(set profiles.Setting, shift preset.Decibels) float64 {
	x.ear.work += flowWork
	n, err := x.hall.deck.device.Network(set)
	if err != nil {
		return math.Inf(1)
	}
	return x.ear.cost(n, 1/shift.Amplitude())
}

// improved moves one seat at a time to wherever it does most, as long as the error
// falls.
func (x *tapSearch) improved(s seating, until int) seating {
	for idle, i := 0, 0; idle < len(x.hall.seats) && !x.enough(until); i++ {
		idle++
		if next, ok := x.reseated(s, i%len(x.hall.seats), until); ok {
			s, idle = next, 0
		}
	}
	return s
}

// reseated is the seating with one seat at its best place.
func (x *tapSearch) reseated(s seating, i, until int) (seating, bool) {
	loop := s.loops[x.hall.seats[i].line]
	if x.hall.free && loop.gain > 0 && loop.tap == i {
		return s, false
	}
	best, found := s, false
	for _, place := range x.placesFor(s, i) {
		if x.enough(until) {
			break
		}
		next := s.clone()
		next.places[i] = place
		x.resembleAt(&next, i)
		if x.fit(&next, best.cost*better) {
			best, found = next, true
		}
	}
	return best, found
}

func (x *tapSearch) placesFor(s seating, i int) []int {
	raw := x.hall.seats[i].raw
	if len(raw) <= fewTimes {
		return upTo(len(raw))
	}
	const most = 48
	var places []int
	add := func(at preset.Millis) {
		if p := x.hall.nearest(s, i, at); p != none {
			places = append(places, p)
		}
	}
	for _, e := range x.wish.train[:min(most, len(x.wish.train))] {
		add(e.At)
	}
	for _, a := range x.wish.returns {
		for _, t := range x.wish.taps {
			add(t.Delay - a.Delay)
		}
	}
	slices.Sort(places)
	return slices.Compact(places)
}

// resembleAt gives a seat the sign of the echo wanted nearest to it.
func (x *tapSearch) resembleAt(s *seating, i int) {
	if len(x.wish.train) > 0 {
		at := preset.Millis(x.hall.at(*s, i, s.places[i]))
		s.inverted[i] = x.wish.train[x.wish.nearest(at)].Inverted
	}
}

// finished is a seating at the shift, no more than lower below the greatest, at
// which levels meet their steps, every knob turned.
func (x *tapSearch) finished(s seating, lower preset.Decibels) seating {
	taken := s.occupied()
	if len(taken) == 0 || math.IsInf(s.cost, 0) {
		return s
	}
	s = s.clone()
	s.setting = s.setting.Clone()
	if x.hall.free {
		x.shifted(&s, taken, lower)
	}
	b := newBench(s.setting, x.knobs(s, taken), nil)
	if !x.hall.free && !x.hall.deck.coarse {
		b.strides(4, 16, 64)
	}
	start := x.hear(s.setting, s.shift)
	b.near = !x.hall.deck.coarse && x.hall.free && start < onlyRounding
	b.hear = func(set profiles.Setting) float64 { return x.hear(set, s.shift) }
	b.allowed = x.allowed
	until := x.ear.work + polishWork
	s.cost = b.polish(func() bool { return x.ear.work > until })
	s.setting = b.setting
	s.cost += x.hall.deck.setDry(x.wish, s.setting, s.shift) + lineWorth*float64(len(taken))
	return s
}

// shifted sets the levels at the shift that suits them best.
func (x *tapSearch) shifted(s *seating, taken []int, lower preset.Decibels) {
	probe := s.clone()
	probe.setting = x.hall.codes(*s)
	all, ok := x.sums(&probe, taken)
	if !ok {
		return
	}
	levels := all.fit(upTo(len(taken)))
	top := x.wish.topShift()
	for _, l := range levels {
		if l > 0 {
			top = min(top, lowerStep-preset.FromAmplitude(l/x.hall.deck.loudest()))
		}
	}
	least := math.Inf(1)
	for _, shift := range shifts(x.wish.topShift(), top, lower) {
		next := probe.clone()
		next.setting = probe.setting.Clone()
		cost := x.round(&next, all, taken, levels, shift)
		if cost < least*worthLower-sameCost {
			least = cost
			*s = next
		}
	}
	s.cost = least
}

// knobs are the times, levels and polarities of the seats taken, and the feedbacks.
func (x *tapSearch) knobs(s seating, taken []int) []knob {
	k := x.hall.deck
	var all []knob
	for _, i := range taken {
		one := x.hall.seats[i]
		all = append(all, knob{parameter: one.time, ladder: one.raw}, knob{parameter: one.level, ladder: k.level})
		if one.polarity != profiles.None && k.coarse {
			all = append(all, knob{parameter: one.polarity, ladder: signs(k.device.Parameters[one.polarity].Scale)})
		}
	}
	for i, l := range s.loops {
		if l.gain > 0 {
			all = append(all, knob{parameter: k.device.Lines[i].Parameter(profiles.RoleFeedback), ladder: x.hall.ladderOf(l)})
		}
	}
	return all
}

// signs is the ladder of a polarity.
func signs(s *profiles.Scale) ladder {
	var l ladder
	for i, w := range s.Words() {
		code, _ := s.Choose(w)
		l = append(l, rung{code, float64(i)})
	}
	return l
}
