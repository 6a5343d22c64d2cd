package measure

import "math"

const (
	mostArrivals   = 14
	mostHypotheses = 3
	weakLoop       = 0.02 // of a turn: less is no loop
)

// scan finds the arrivals of a sound. The template is first what is direct sound
// in any case, then all before the first strong echo.
func scan(s sound) (attack, []arrival) {
	a := attackOf(s, attackEnd)
	found := a.arrivals(s.rate, mostArrivals, s.length())
	first := math.Inf(1)
	for _, f := range found {
		if math.Abs(f.amp) > 0.15*math.Abs(found[0].amp) && math.Abs(f.amp) > 3*faintest {
			first = math.Min(first, f.at)
		}
	}
	span := math.Min(first-0.006, 0.12)
	if math.IsInf(first, 1) || span < nearest || math.Abs(span-attackEnd) < 0.005 {
		return a, found
	}
	a = attackOf(s, span)
	return a, a.arrivals(s.rate, mostArrivals, s.length())
}

// coarse are the ways to explain the arrivals of a sound by so many heads that
// are worth a fit, the best first; none if there are fewer arrivals.
func coarse(s sound, heads int) ([]hypothesis, attack, []arrival) {
	a, found := scan(s)
	guesses := hypotheses(found, heads, mostHypotheses, s.length())
	for i, g := range guesses {
		if g.miss > 2*guesses[0].miss+0.05 {
			return guesses[:i], a, found
		}
	}
	return guesses, a, found
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
