package arrange

import (
	"cmp"
	"math"
	"slices"

	"echowright/preset"
	"echowright/profiles"
)

// A seat is a tap on a memory: a place from which something may be heard.
type seat struct {
	line, tap int
	time      int // parameters; None where there is none
	level     int
	polarity  int
	raw       ladder // of the time's own numbers
}

// A hall is a device whose memories are read by taps.
type hall struct {
	deck  *deck
	seats []seat
	// free reports whether levels are open while the loops stay as they are; where
	// levels stand in the loop the error is not quadratic in them.
	free bool
}

func newHall(k *deck) *hall {
	h := &hall{deck: k, free: true}
	d := k.device
	for i, l := range d.Lines {
		if l.Has(profiles.RoleFeedback) && (l.Loop.From == profiles.LoopSum || l.Loop.After) {
			h.free = false
		}
		for j, t := range l.Taps {
			s := seat{line: i, tap: j, time: timeOf(t), level: t.Parameter(profiles.RoleLevel), polarity: t.Parameter(profiles.RolePolarity)}
			s.raw = times(d.Parameters[s.time].Scale)
			h.seats = append(h.seats, s)
		}
	}
	return h
}

// timeOf is the parameter that says when a tap plays: its time, or where it has
// none its note value.
func timeOf(t profiles.Tap) int {
	if t.Has(profiles.RoleTime) {
		return t.Parameter(profiles.RoleTime)
	}
	return t.Parameter(profiles.RoleNote)
}

// A loopUse is what a line's loop is set to.
type loopUse struct {
	place  int // of the time of the tap that is fed back
	tap    int // in seats; none: no loop
	code   int
	gain   float64 // what it should be, an amplitude ratio
	turned bool    // by a code that turns the sign
	cut    cut
}

// A seating is who sits where: the codes of a device with taps, levels apart.
type seating struct {
	base     profiles.Setting // what is shared: codes that times are a share of
	scales   []float64        // for each seat what its time's number is multiplied by
	places   []int            // of the seats' times on their ladders; none: empty
	inverted []bool
	loops    []loopUse // of the lines
	levels   []int     // of the seats taken on the ladder of levels
	fixed    []int     // of all seats, where levels stand in loops and all are tried
	setting  profiles.Setting
	shift    preset.Decibels
	cost     float64
}

func (s seating) clone() seating {
	s.places, s.inverted = slices.Clone(s.places), slices.Clone(s.inverted)
	s.loops, s.levels, s.fixed = slices.Clone(s.loops), slices.Clone(s.levels), slices.Clone(s.fixed)
	return s
}

// empty is a seating with nobody in it, times as the codes in base make them.
func (h *hall) empty(base profiles.Setting) seating {
	s := seating{base: base, cost: 1}
	for _, one := range h.seats {
		s.places = append(s.places, none)
		s.inverted = append(s.inverted, false)
		s.scales = append(s.scales, h.share(one, base))
	}
	for range h.deck.device.Lines {
		s.loops = append(s.loops, loopUse{tap: none, cut: h.deck.nearestCut(timbre{})})
	}
	return s
}

// share is what a seat's time is multiplied by to come to ms.
func (h *hall) share(s seat, base profiles.Setting) float64 {
	d := h.deck.device
	if len(s.raw) == 0 || d.Parameters[s.time].Of == profiles.None {
		return 1
	}
	with := base.Clone()
	top := s.raw[len(s.raw)-1]
	with.Codes[s.time] = top.code
	if v, ok, err := d.Number(s.time, with); ok && err == nil {
		return v / top.value
	}
	return math.NaN()
}

// at is the time of a seat at a place.
func (h *hall) at(s seating, i, place int) float64 { return h.seats[i].raw[place].value * s.scales[i] }

// nearest is the place of a seat nearest to a time, none if it is out of reach.
func (h *hall) nearest(s seating, i int, at preset.Millis) int {
	raw := h.seats[i].raw
	if len(raw) == 0 || !(s.scales[i] > 0) || float64(at) > raw.top()*s.scales[i]*1.02 {
		return none
	}
	return raw.nearest(float64(at) / s.scales[i])
}

// codes sets the device: occupied seats at their times, as loud as they can be,
// the others silent.
func (h *hall) codes(s seating) profiles.Setting {
	set := s.base.Clone()
	d := h.deck.device
	for i, one := range h.seats {
		if s.places[i] == none {
			continue
		}
		set.Codes[one.time] = one.raw[s.places[i]].code
		if one.level != profiles.None {
			set.Codes[one.level] = h.deck.level[len(h.deck.level)-1].code
		}
		if one.polarity != profiles.None && s.inverted[i] {
			if code, ok := d.Parameters[one.polarity].Scale.Choose(profiles.WordInverted); ok {
				set.Codes[one.polarity] = code
			}
		}
	}
	for i, l := range s.loops {
		h.putLoop(set, i, l)
	}
	return set
}

func (h *hall) putLoop(set profiles.Setting, line int, l loopUse) {
	k := h.deck
	k.put(set, line, profiles.RoleHighCut, l.cut.high)
	k.put(set, line, profiles.RoleLowCut, l.cut.low)
	if l.gain == 0 {
		return
	}
	k.put(set, line, profiles.RoleFeedback, l.code)
	i := k.device.Lines[line].Parameter(profiles.RoleFeedbackTap)
	if l.tap == none || i == profiles.None {
		return
	}
	name := k.device.Lines[line].Taps[h.seats[l.tap].tap].Name
	if code, ok := k.device.Parameters[i].Scale.Choose(name); ok {
		set.Codes[i] = code
	}
}

// ladderOf is that of a loop's feedback.
func (h *hall) ladderOf(l loopUse) ladder {
	if l.turned {
		return h.deck.turned
	}
	return h.deck.feedback
}

// occupied lists the seats that are taken.
func (s seating) occupied() []int {
	var all []int
	for i, p := range s.places {
		if p != none {
			all = append(all, i)
		}
	}
	return all
}

func sortSeatings(all []seating) {
	slices.SortStableFunc(all, func(a, b seating) int { return cmp.Compare(a.cost, b.cost) })
}
