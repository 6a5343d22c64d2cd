package arrange

import "math"

// How many seatings are followed up from seat to seat where every code is tried.
const grownSeatings = 64

// grown fills seat after seat with everything that it can have: for devices so
// coarse that this is little.
func (x *tapSearch) grown(empty seating) []seating {
	var all []seating
	for _, loops := range x.loops(empty) {
		start := empty.clone()
		copy(start.loops, loops)
		if x.hall.free {
			x.seatLoops(&start)
		}
		start.cost = math.Inf(1)
		x.fit(&start, math.Inf(1))
		level := []seating{start}
		for i := range x.hall.seats {
			level = x.seated(level, i)
			all = append(all, level[:min(mostSeatings, len(level))]...)
		}
	}
	sortSeatings(all)
	return all
}

// seated is the best of the seatings with something more, or nothing, in a seat.
func (x *tapSearch) seated(before []seating, i int) []seating {
	next := append([]seating(nil), before...)
	for _, s := range before {
		if s.places[i] != none {
			continue
		}
		for place := range x.hall.seats[i].raw {
			one := s.clone()
			one.places[i] = place
			x.resembleAt(&one, i)
			if x.hall.free {
				if x.fit(&one, math.Inf(1)) {
					next = append(next, one)
				}
				continue
			}
			for rung := range x.hall.deck.level {
				if one := one.clone(); x.hall.deck.level[rung].value > 0 && x.fitAt(&one, i, rung) {
					next = append(next, one)
				}
			}
		}
	}
	sortSeatings(next)
	return next[:min(grownSeatings, len(next))]
}

// fitAt judges a seating whose levels stand in its loops, one of them on a rung;
// false if the loops are too strong.
func (x *tapSearch) fitAt(s *seating, i, rung int) bool {
	k := x.hall.deck
	if s.fixed == nil {
		s.fixed = make([]int, len(s.places))
	}
	s.fixed[i] = rung
	s.shift = x.wish.topShift()
	s.setting = x.hall.codes(*s)
	for j, place := range s.places {
		if place != none && x.hall.seats[j].level >= 0 {
			s.setting.Codes[x.hall.seats[j].level] = k.level[s.fixed[j]].code
		}
	}
	if !x.allowed(s.setting) {
		return false
	}
	s.cost = x.hear(s.setting, s.shift) + lineWorth*float64(len(s.occupied()))
	return !math.IsInf(s.cost, 0)
}
