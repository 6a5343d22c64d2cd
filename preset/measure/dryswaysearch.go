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

const (
	// Where less than so many turns of a wow are heard, another rate may explain
	// them as well, with another mean speed.
	turnsHeard  = 1.6
	aboutLikely = 40.0 // times less likely, as twice the logarithm
)

// otherRates are tried where too little of a wow is heard, as shares of its rate.
var otherRates = []float64{0.4, 0.6, 0.8, 1.25, 1.6, 2.2}

// otherWows tries whether a wow of another rate explains the stage better than f. It
// gives the best, and others that are about as likely.
func (g *stage) otherWows(f swayed) (best swayed, likely []swayed) {
	w := f.unit.sways[0]
	heard := float64(len(g.wet)-g.count) / g.rate
	if heard*w.rate > turnsHeard {
		return f, nil
	}
	all := []swayed{f}
	for _, share := range otherRates {
		if hz := share * w.rate; hz > slowest && hz < mostWow {
			m := f.unit.clone()
			m.sways[0] = sway{rate: hz}
			all = append(all, g.fit(m, 8, 1e-4))
		}
	}
	slices.SortStableFunc(all, func(a, b swayed) int { return cmp.Compare(a.cost, b.cost) })
	for _, o := range all[1:] {
		if g.gain(o, all[0]) < aboutLikely {
			likely = append(likely, o)
		}
	}
	return all[0], likely
}
