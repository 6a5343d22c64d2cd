package arrange

import "math"

// A rounding is levels on a ladder, with the sums that tell what they cost.
type rounding struct {
	sums   sums
	ladder ladder
	louder float64   // what a level is on the pattern's scale
	places []int     // on the ladder
	levels []float64 // on the pattern's scale
	reach  int       // how many rungs a level may leave its start
	start  []int
}

// anyRung lets a level go anywhere.
const anyRung = math.MaxInt

// How many rungs a ladder may have for any two levels to be tried at all of them.
const fewLevels = 32

// settle moves one or two levels by a rung as long as the error falls, and gives
// what it is then. On a short ladder two levels move to any rungs: with steps that
// wide, two lines may make up between them what neither can have.
func (r *rounding) settle() float64 {
	least := 1e-9 * r.sums.power
	for moved := true; moved; {
		moved = false
		for i := range r.places {
			for _, by := range [2]int{1, -1} {
				if fall, ok := r.fall(i, by); ok && fall > least {
					r.step(i, by)
					moved = true
				}
				for j := range i {
					moved = r.pair(i, j, by, least) || moved
				}
			}
			for j := range r.places {
				if i != j && r.reach == anyRung && len(r.ladder) <= fewLevels {
					moved = r.anywhere(i, j, least) || moved
				}
			}
		}
	}
	return max(0, r.sums.cost(upTo(len(r.levels)), r.levels))
}

func (r *rounding) pair(i, j, by int, least float64) bool {
	for _, with := range [2]int{1, -1} {
		a, ok := r.change(i, by)
		b, also := r.change(j, with)
		if !ok || !also {
			continue
		}
		fall := a*(2*r.short(i)-a*r.sums.pairs[i][i]) + b*(2*r.short(j)-b*r.sums.pairs[j][j]) - 2*a*b*r.sums.pairs[i][j]
		if fall > least {
			r.step(i, by)
			r.step(j, with)
			return true
		}
	}
	return false
}

// fall is by how much the squared error falls if a level moves by a rung.
func (r *rounding) fall(i, by int) (float64, bool) {
	a, ok := r.change(i, by)
	return a * (2*r.short(i) - a*r.sums.pairs[i][i]), ok
}

func (r *rounding) change(i, by int) (float64, bool) {
	place := r.places[i] + by
	if place < 0 || place >= len(r.ladder) || max(place-r.start[i], r.start[i]-place) > r.reach {
		return 0, false
	}
	return r.ladder[place].value*r.louder - r.levels[i], true
}

// short is how much of the wish is still missing where a level plays.
func (r *rounding) short(i int) float64 {
	s := r.sums.wish[i]
	for j, l := range r.levels {
		s -= l * r.sums.pairs[i][j]
	}
	return s
}

func (r *rounding) step(i, by int) {
	r.places[i] += by
	r.levels[i] = r.ladder[r.places[i]].value * r.louder
}

// anywhere puts one level on any rung and another on the one that is then best.
func (r *rounding) anywhere(i, j int, least float64) bool {
	moved := false
	for to := range r.ladder {
		a := r.ladder[to].value*r.louder - r.levels[i]
		own := r.sums.pairs[j][j]
		if own == 0 {
			return moved
		}
		best := r.levels[j] + (r.short(j)-a*r.sums.pairs[i][j])/own
		with := r.ladder.nearest(best / r.louder)
		b := r.ladder[with].value*r.louder - r.levels[j]
		fall := a*(2*r.short(i)-a*r.sums.pairs[i][i]) + b*(2*r.short(j)-b*own) - 2*a*b*r.sums.pairs[i][j]
		if fall > least {
			r.step(i, to-r.places[i])
			r.step(j, with-r.places[j])
			moved = true
		}
	}
	return moved
}
