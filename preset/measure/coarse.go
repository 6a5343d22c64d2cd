package measure

import (
	"cmp"
	"math"
	"slices"
)

const (
	mostArrivals   = 14
	mostHypotheses = 2      // of a span
	mostStarts     = 5      // of all
	agreeing       = 0.0006 // s by which arrivals may differ to be the same
	weakLoop       = 0.02   // of a turn: less is no loop
)

// spans are how long the direct sound is taken to be alone, s from the onset. A
// note that begins slowly, or bounces, needs a long one; echoes that follow soon a
// short one.
var spans = []float64{0.022, 0.036, 0.055, 0.08, 0.115}

// start is a hypothesis with the attack that it was found with.
type start struct {
	hypothesis
	attack attack
}

// listening is what a sound's attack tells when so much of it is taken for direct
// sound alone.
type listening struct {
	span   float64
	attack attack
	found  []arrival
}

// coarse are the ways to explain the arrivals of a sound by so many heads that
// are worth a fit, the best first; none if there are fewer arrivals. Those that
// rest on what all spans agree on come before those of a single one. Found are
// the arrivals that were agreed on, or the most that a span brought to light.
func coarse(s sound, heads int) (starts []start, found []arrival) {
	var all []listening
	for _, span := range spans {
		if span > s.length()/3 {
			continue
		}
		a := attackOf(s, span)
		l := listening{span, a, a.arrivals(s.rate, mostArrivals, s.length())}
		all = append(all, l)
		if len(l.found) > len(found) {
			found = l.found
		}
	}
	if agreed := agreement(all); len(agreed) > 0 {
		found = agreed
		starts = before(all, agreed).starts(agreed, heads, s.length())
	}
	var others []start
	for _, l := range all {
		others = append(others, l.starts(l.found, heads, s.length())...)
	}
	slices.SortStableFunc(others, func(a, b start) int { return cmp.Compare(a.miss, b.miss) })
	for _, o := range others {
		if len(starts) < mostStarts && !slices.ContainsFunc(starts, func(g start) bool { return g.same(o.hypothesis) }) {
			starts = append(starts, o)
		}
	}
	return starts, found
}

func (l listening) starts(found []arrival, heads int, until float64) []start {
	var all []start
	for _, h := range hypotheses(found, heads, mostHypotheses, until) {
		all = append(all, start{h, l.attack})
	}
	return all
}

// before is the listening whose span is the longest before the first arrival.
func before(all []listening, agreed []arrival) listening {
	first := math.Inf(1)
	for _, a := range agreed {
		first = math.Min(first, a.at)
	}
	best := all[0]
	for _, l := range all {
		if l.span < first-0.005 {
			best = l
		}
	}
	return best
}

// agreement are the arrivals that most of the listenings have in common: what the
// note leaves of itself comes out differently each time, an echo does not.
func agreement(all []listening) []arrival {
	var agreed []arrival
	var pool []arrival
	for i, l := range all {
		for _, a := range l.found {
			pool = append(pool, arrival{a.at, a.amp, i})
		}
	}
	slices.SortStableFunc(pool, func(a, b arrival) int { return cmp.Compare(math.Abs(b.amp), math.Abs(a.amp)) })
	for _, p := range pool {
		if slices.ContainsFunc(agreed, func(a arrival) bool { return math.Abs(a.at-p.at) < apart }) {
			continue
		}
		var at, amp []float64
		for _, q := range pool {
			if math.Abs(q.at-p.at) < agreeing && (q.amp < 0) == (p.amp < 0) {
				at, amp = append(at, q.at), append(amp, q.amp)
			}
		}
		if 2*len(at) > len(all) && len(agreed) < mostArrivals {
			agreed = append(agreed, arrival{at: quantile(at, 0.5), amp: quantile(amp, 0.5)})
		}
	}
	return agreed
}

// same tells whether two hypotheses come to the same thing.
func (h hypothesis) same(o hypothesis) bool {
	for k := range h.heads {
		if math.Abs(h.heads[k].at-o.heads[k].at) > 0.001 {
			return false
		}
	}
	return slices.Equal(h.feeds, o.feeds)
}

// first is the shortest delay.
func (m machine) first() float64 {
	d := math.Inf(1)
	for _, v := range m.delay {
		d = math.Min(d, v)
	}
	return d
}

// loopAt is the gain of one turn at 1 kHz as played at rate, without sign.
func (m machine) loopAt(rate float64) float64 {
	if len(m.feeds) == 0 {
		return 0
	}
	return math.Abs(m.loop) * m.tone.magnitude(1000, rate)
}
