package measure

import (
	"cmp"
	"math"
	"slices"
)

// promise is how much a sway of some rate would leave by one step of the fit.
type promise struct{ rate, left float64 }

// promises are those of a sway of each rate that m has not, the best first; nil
// where m cannot be played.
func (g *stage) promises(m swaying, which int, rates []float64) []promise {
	dials := m.dials()
	plain, x := g.problem(&m, dials)
	r := make([]float64, plain.length)
	l := newLines(len(x), plain.length)
	if !plain.residuals(x, r) || !plain.differentiate(x, r, l) {
		return nil
	}
	now := dot(r, r)
	var all []promise
	for _, hz := range rates {
		v := m.clone()
		v.sways[which] = sway{rate: hz}
		more := v.dials()[len(dials):]
		q, y := g.problem(&v, more[:2])
		extra := newLines(2, q.length)
		if q.differentiate(y, r, extra) {
			all = append(all, promise{hz, plain.and(q).promise(slices.Concat(x, y), now, l.and(extra, r))})
		}
	}
	slices.SortStableFunc(all, func(a, b promise) int { return cmp.Compare(a.left, b.left) })
	return all
}

// search finds the rate at which the carrier sways: of all rates those that
// promise most are fitted. It gives the unit with or without a sway and its sum of
// squares, and whether it sways.
func (g *stage) search(m swaying, which int, rates []float64) (swaying, float64, bool) {
	still := g.fit(m, 6, 1e-2)
	best, ok := still, false
	var tried []float64
	for _, c := range g.promises(still.unit.clone(), which, rates) {
		if len(tried) == swaysTried {
			break
		}
		if slices.ContainsFunc(tried, func(f float64) bool { return math.Abs(f-c.rate) < 0.12*f }) {
			continue
		}
		tried = append(tried, c.rate)
		v := still.unit.clone()
		v.sways[which] = sway{rate: c.rate}
		if f := g.fit(v, 8, 1e-2); g.worth(still, f, which) && f.cost < best.cost {
			best, ok = f, true
		}
	}
	return best.unit, best.cost, ok
}

// worth tells whether a sway leaves so much less that it is taken for real.
func (g *stage) worth(still, with swayed, which int) bool {
	share := []float64{worthSway, worthFlutter}[which]
	noise := g.noise * float64(still.count)
	return with.cost-noise < share*(still.cost-noise) && g.gain(still, with) > surelySways
}
