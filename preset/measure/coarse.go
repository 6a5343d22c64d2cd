package measure

import "math"

// candidate is a machine with how well it explains the attack.
type candidate struct {
	machine machine
	cost    float64
}

const (
	mostArrivals   = 14
	mostHypotheses = 5
	attackFade     = 0.008 // s
	weakLoop       = 0.02  // of a turn: less is no loop
)

// scan finds the arrivals of a sound. The template is first what is direct sound
// in any case, then all before the first strong echo.
func scan(s sound) (attack, []arrival) {
	a := attackOf(s.take, s.rate, s.lead, s.lead, int(attackEnd*s.rate))
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
	a = attackOf(s.take, s.rate, s.lead, s.lead, int(span*s.rate))
	return a, a.arrivals(s.rate, mostArrivals, s.length())
}

// coarse finds the machine of so many heads that explains best what the attacks
// of the echoes tell. ok is false if there are not so many arrivals.
func coarse(s sound, heads int) (best candidate, found []arrival, ok bool) {
	a, found := scan(s)
	guesses := hypotheses(found, heads, mostHypotheses, s.length())
	best.cost = math.Inf(1)
	white := sound{rate: s.rate, take: a.white, lead: s.lead, noise: a.noise}
	dull := white.thinned(lowRate, 450)
	for _, h := range guesses {
		c := fitAttack(dull, h.machine())
		if c.machine.loopAt(s.rate) < weakLoop && len(c.machine.feeds) > 0 {
			m := c.machine.clone()
			m.feeds, m.loop = nil, 0
			c = fitAttack(dull, m)
		}
		if c.cost < best.cost*0.999 {
			best = c
		}
	}
	if math.IsInf(best.cost, 1) {
		return best, found, false
	}
	return fitAttack(white.thinned(lowRate, 900), best.machine), found, true
}

// fitAttack fits a machine to the whitened take.
func fitAttack(w sound, m machine) candidate {
	lasting := math.Min(0.06, m.first()-attackFade-0.004)
	p := player{rate: w.rate, take: w.take, note: noteWindow(len(w.take), w.lead+int(lasting*w.rate), int(attackFade*w.rate))}
	fitted, sol := p.fit(m, free{}, 8, 1e-3)
	return candidate{fitted, sol.cost}
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
	return math.Abs(m.loop) * m.magnitude(1000, rate)
}
