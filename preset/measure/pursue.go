package measure

import (
	"math"
	"slices"
)

const (
	// An echo that was overlooked has to sound so much louder than the faintest
	// head to take its place.
	muchLouder   = 1.3
	mostPursuits = 5
	// A change has to leave less than this share of the news of the attacks.
	fewerNews = 0.97
	mostSeeds = 3 // arrivals that a machine is grown from
	// A head is hardly there below this share of the loudest.
	hardlyThere = 0.12
	mostChanges = 16
)

// pursue looks for a better start where a does not explain the take: it asks the
// attacks what was overlooked or given to the wrong loop, and grows machines from
// single arrivals, head by head. The best of them is tried.
func (b bench) pursue(g start, a attempt, found []arrival) attempt {
	best, w := b.improved(g, a.attacks, found)
	for _, seed := range found[:min(mostSeeds, len(found))] {
		if grown, f, ok := b.grown(g, seed); ok && f.news < w.news {
			if grown, f = b.improved(grown, f, found); f.news < fewerNews*w.news {
				best, w = grown, f
			}
		}
	}
	if w.news > fewerNews*a.attacks.news {
		return a
	}
	return b.try(best, w)
}

// grown is a start of as many heads as g, beginning with one arrival: what a note
// holds beside its onset follows every echo, and is no echo itself, as soon as the
// note is known to hold it.
func (b bench) grown(g start, seed arrival) (start, fitted, bool) {
	now := start{hypothesis{heads: []arrival{seed}, miss: g.miss}, g.attack}
	w := b.attacks(now)
	for len(now.heads) < len(g.heads) {
		missing := w.overlooked(w.machine.delay)
		if math.Abs(missing.amp) < faintest {
			return now, w, false
		}
		now = now.asIn(w)
		now.heads = append(now.heads, missing)
		now.inOrder()
		w = b.attacks(now)
	}
	return now.asIn(w), w, true
}

// improved changes one thing of a start after the other as long as the attacks are
// explained better by it.
func (b bench) improved(g start, w fitted, found []arrival) (start, fitted) {
	for range mostPursuits {
		best, with := w, g
		for _, next := range w.changes(g, found) {
			if v := b.attacks(next); v.news < best.news && v.news < fewerNews*w.news {
				best, with = v, next
			}
		}
		if best.news == w.news {
			break
		}
		g, w = with.asIn(best), best
	}
	return g, w
}

// asIn is a start with the heads and the loop that a fit has found for it.
func (g start) asIn(f fitted) start {
	tone := f.machine.tone.magnitude(1000, f.sound.rate)
	g.heads = slices.Clone(g.heads)
	for k := range g.heads {
		g.heads[k] = arrival{at: f.machine.delay[k], amp: f.machine.gain[k] * tone}
	}
	g.loop = f.machine.loop * tone
	return g
}

// changes are the starts that lie next to what a fit to the attacks came to: with
// another way to feed the loop, or with the faintest head in the place of an echo
// that was overlooked, or of one that was found, if that head is hardly there.
func (f fitted) changes(g start, found []arrival) []start {
	now := g.asIn(f)
	var all []start
	for _, feeds := range waysToFeed(len(g.heads)) {
		if !slices.Equal(feeds, now.feeds) {
			next := now
			next.feeds, next.loop = feeds, math.Max(weakLoop, math.Abs(now.loop))
			all = append(all, next)
		}
	}
	faint, top := 0, 0.0
	for k, h := range now.heads {
		top = math.Max(top, math.Abs(h.amp))
		if math.Abs(h.amp) < math.Abs(now.heads[faint].amp) {
			faint = k
		}
	}
	others := slices.Delete(slices.Clone(f.machine.delay), faint, faint+1)
	places := []arrival{f.overlooked(others)}
	if math.Abs(now.heads[faint].amp) < hardlyThere*top {
		places = append(places, found...)
	}
	for _, p := range places {
		louder := math.Abs(p.amp) > math.Max(faintest, muchLouder*math.Abs(now.heads[faint].amp))
		if louder && !occupied(others, p.at) && len(all) < mostChanges {
			next := now
			next.heads = slices.Clone(now.heads)
			next.heads[faint] = p
			next.inOrder()
			all = append(all, next)
		}
	}
	return all
}

// occupied tells whether a head stands so near to a place that there is none else.
func occupied(delays []float64, at float64) bool {
	return slices.ContainsFunc(delays, func(d float64) bool { return math.Abs(d-at) < crowded })
}

// overlooked is the loudest echo in what a fit leaves, away from the heads given:
// what is left after the note, divided by what was recorded.
func (f fitted) overlooked(heads []float64) arrival {
	s, m := f.sound, f.machine
	p := player{sound: s}
	p.lasting(noteLengths[f.rung])
	left := make([]float64, len(s.take))
	if !p.rest(&m, left) {
		return arrival{}
	}
	for i, n := range p.note {
		left[i] *= 1 - n
	}
	recorded := p.tape.memory[p.tape.reach:][:len(s.take)]
	h := deconvolve(left, recorded, s.rate, 4*s.noise*float64(len(recorded)), band{100, lowBand})
	var best arrival
	for i := int(nearest * s.rate); i < len(h)-1; i++ {
		at := float64(i) / s.rate
		if !occupied(heads, at) && math.Abs(h[i]) > math.Abs(best.amp) {
			best = peak(h, i, s.rate)
		}
	}
	return best
}

// inOrder puts the heads in order of delay; the loop stays with the same ones.
func (h *hypothesis) inOrder() {
	fed := make([]arrival, len(h.feeds))
	for i, k := range h.feeds {
		fed[i] = h.heads[k]
	}
	slices.SortFunc(h.heads, func(a, b arrival) int { return compareFloat(a.at, b.at) })
	h.feeds = slices.Clone(h.feeds)
	for i, f := range fed {
		h.feeds[i] = slices.Index(h.heads, f)
	}
	slices.Sort(h.feeds)
}
