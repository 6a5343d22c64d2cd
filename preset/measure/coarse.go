package measure

import (
	"cmp"
	"math"
	"slices"
)

const (
	mostArrivals   = 14
	mostHypotheses = 3      // of a span
	mostStarts     = 6      // of all
	agreeing       = 0.0006 // s by which arrivals may differ to be the same
	mostGuessed    = 6      // heads that are looked for where their number is not given
	mostUnheard    = 3      // heads more than arrivals that were agreed on
	costOfHead     = 0.02   // what a head more has to explain, as a share of all
	weakLoop       = 0.03   // of a turn: less is no loop
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

// heard is all that a sound's attacks tell.
type heard struct {
	listenings []listening
	agreed     []arrival // what most listenings have in common
	until      float64   // s: the length of the sound
}

// hear listens to the attacks of a sound with every span.
func hear(s sound) heard {
	h := heard{until: s.length()}
	for _, span := range spans {
		if span < s.length()/3 {
			a := attackOf(s, span)
			h.listenings = append(h.listenings, listening{span, a, a.arrivals(s.rate, mostArrivals, s.length())})
		}
	}
	h.agreed = agreement(h.listenings)
	for _, l := range h.listenings {
		for i, f := range l.found {
			if k := matching(h.agreed, f.at); k >= 0 && f.at < l.span {
				l.found[i].amp = h.agreed[k].amp // a template that holds an echo hides it
			}
		}
	}
	return h
}

// arrivals are those agreed on, or the most that one span brought to light.
func (h heard) arrivals() []arrival {
	if len(h.agreed) > 0 {
		return h.agreed
	}
	var most []arrival
	for _, l := range h.listenings {
		if len(l.found) > len(most) {
			most = l.found
		}
	}
	return most
}

// rumours are arrivals that at least two of the spans brought to light, whatever the
// others say, the loudest first: those agreed on lead.
func (h heard) rumours() []arrival {
	all := slices.Clone(h.agreed)
	var pool []arrival
	for _, l := range h.listenings {
		pool = append(pool, l.found...)
	}
	slices.SortStableFunc(pool, func(a, b arrival) int { return cmp.Compare(math.Abs(b.amp), math.Abs(a.amp)) })
	for _, p := range pool {
		if a, votes := meeting(pool, p); votes > 1 && matching(all, a.at) < 0 {
			all = append(all, a)
		}
	}
	return all
}

// loudest is the amplitude of the loudest arrival that was agreed on, 0 if none was.
func (h heard) loudest() float64 {
	top := 0.0
	for _, a := range h.agreed {
		top = math.Max(top, math.Abs(a.amp))
	}
	return top
}

// starts are the ways to explain the arrivals by so many heads that are worth a
// fit, the best first; none if there are fewer arrivals. Those that rest on what
// all spans agree on come before those of a single one.
func (h heard) starts(heads int) []start {
	var all, others []start
	if len(h.agreed) > 0 {
		all = h.before(h.agreed).starts(h.agreed, heads, h.until)
	}
	for _, l := range h.listenings {
		if len(h.agreed) > 0 && heads > len(h.agreed)+mostUnheard {
			break
		}
		others = append(others, l.starts(l.found, heads, h.until)...)
	}
	slices.SortStableFunc(others, func(a, b start) int { return cmp.Compare(a.miss, b.miss) })
	for _, o := range others {
		if len(all) < mostStarts && !slices.ContainsFunc(all, func(g start) bool { return g.same(o.hypothesis) }) {
			all = append(all, o)
		}
	}
	return all
}

// count is the number of heads that explains the arrivals with the least means.
func (h heard) count() int {
	best, least := 0, math.Inf(1)
	found := h.arrivals()
	for heads := 1; heads <= min(mostGuessed, len(found)); heads++ {
		for _, g := range hypotheses(found, heads, 1, h.until) {
			if cost := g.miss + costOfHead*float64(heads); cost < least {
				best, least = heads, cost
			}
		}
	}
	return best
}

func (l listening) starts(found []arrival, heads int, until float64) []start {
	var all []start
	for _, h := range hypotheses(found, heads, mostHypotheses, until) {
		all = append(all, start{h, l.attack})
	}
	return all
}

// before is the listening whose span is the longest before the first arrival.
func (h heard) before(agreed []arrival) listening {
	first := math.Inf(1)
	for _, a := range agreed {
		first = math.Min(first, a.at)
	}
	best := h.listenings[0]
	for _, l := range h.listenings {
		if l.span < first-0.005 {
			best = l
		}
	}
	return best
}

// agreement are the arrivals that most of the listenings have in common, of those
// whose template ends before: what the note leaves of itself comes out differently
// each time, an echo does not.
func agreement(all []listening) []arrival {
	var pool []arrival
	for i, l := range all {
		for _, a := range l.found {
			if a.at > l.span {
				pool = append(pool, arrival{a.at, a.amp, i})
			}
		}
	}
	slices.SortStableFunc(pool, func(a, b arrival) int { return cmp.Compare(math.Abs(b.amp), math.Abs(a.amp)) })
	var agreed []arrival
	for _, p := range pool {
		if slices.ContainsFunc(agreed, func(a arrival) bool { return math.Abs(a.at-p.at) < apart }) {
			continue
		}
		if a, votes := meeting(pool, p); votes > 1 && 2*votes > endingBefore(all, p.at) && len(agreed) < mostArrivals {
			agreed = append(agreed, a)
		}
	}
	return agreed
}

// meeting is the middle of the arrivals of pool that are the same as p, and how
// many there are.
func meeting(pool []arrival, p arrival) (middle arrival, votes int) {
	var at, amp []float64
	for _, q := range pool {
		if math.Abs(q.at-p.at) < agreeing && (q.amp < 0) == (p.amp < 0) {
			at, amp = append(at, q.at), append(amp, q.amp)
		}
	}
	return arrival{at: quantile(at, 0.5), amp: quantile(amp, 0.5)}, len(at)
}

// endingBefore counts the listenings whose template ends before at.
func endingBefore(all []listening, at float64) int {
	n := 0
	for _, l := range all {
		if l.span < at {
			n++
		}
	}
	return n
}

// same tells whether two hypotheses come to the same thing.
func (h hypothesis) same(o hypothesis) bool {
	return h.sameHeads(o) && slices.Equal(h.feeds, o.feeds)
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
