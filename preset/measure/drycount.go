package measure

import "math"

// counted is what so many heads leave, as the sum of squares of a rough fit.
type counted struct {
	heads int
	cost  float64
}

const (
	mostCounted = 7
	// A head more has to leave less than this share of the rest.
	worthAHead = 0.8
)

// count finds the number of heads: the least after which another head explains
// little more.
func (s *spectra) count(seen []sight) (settled, []counted) {
	echoes, _ := seen[0].split()
	var all []counted
	best := settled{cost: math.Inf(1)}
	for n := 1; n <= min(mostCounted, len(echoes)); n++ {
		f := s.begin(seen, n)
		all = append(all, counted{n, f.cost})
		if f.cost < worthAHead*best.cost {
			best = f
		}
	}
	return best, all
}
