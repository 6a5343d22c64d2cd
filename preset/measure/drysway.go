package measure

import (
	"math"
	"slices"
)

const (
	// A carrier is thought of as moving where the still unit leaves so many times
	// the noise of what sounds, and taken for moving where that leaves less than
	// worthSway of what is more than noise, and is so much likelier (twice the
	// logarithm).
	restlessFrom = 1.25
	worthSway    = 0.5
	worthFlutter = 0.85
	surelySways  = 60.0
	swaysTried   = 2
	faintestSway = 3e-5 // peak of the speed

	lowStage, lowHigh   = 5000.0, 1600.0 // Hz: rate at the least, and band
	fineStage, fineHigh = 11_000.0, 3300.0
	longStage           = 9.0 // s
	shortStage          = 4.0

	// A start is fitted if its guess misses no more than so many times the best one.
	likelyGuess  = 1.3
	startsTried  = 3
	calmEnough   = 2.0    // times the noise: no other start is tried
	dullReach    = 0.0007 // s that a delay may move in the dull stage
	faintestFed  = 0.02
	faintestTurn = 0.15 // of the strongest
)

// restless tells whether the still unit leaves more than noise where it sounds.
func (e explanation) restless() bool {
	if e.c.wetNoise == 0 {
		return meanSquare(e.left) > 1e-4*meanSquare(e.c.wet)
	}
	size := int(levelBlock * e.c.rate)
	left, n := 0.0, 0
	wet := blockLevels(e.c.wet, size)
	for i, l := range blockLevels(e.left, size) {
		if wet[i] > speedAbove*e.c.wetNoise {
			left += l
			n++
		}
	}
	return left > restlessFrom*(e.c.wetNoise+e.passed())*float64(n)
}

// passed is about how much of the dry channel's noise the unit passes on, as a mean
// square where the dry channel sounds.
func (e explanation) passed() float64 {
	heard, back := 0.0, 0.0
	for k, g := range e.unit.gain {
		heard += g * g
		back += e.unit.fed[k] * e.unit.fed[k]
	}
	return e.c.dryHiss * heard / math.Max(1-back, 0.1)
}

// sway looks for a motion of the carrier and takes it up if it explains much of
// what is left.
//
// The duller the band, the less a motion turns its phases, and the more surely the
// search ends in the right valley.
func (e *explanation) sway(seen []sight, dull float64) {
	m, ok := newStage(e.c, 4*dull, dull, longStage).begin(e.starts(seen), wowRates(e.seconds()))
	if !ok {
		return
	}
	low := newStage(e.c, lowStage, math.Max(lowHigh, dull), shortStage)
	m.parts = []turned{turnHigh, turnLow}
	m = low.withoutWeakFeeds(low.fit(m.awake(), 8, 1e-3))
	m, _, _ = low.search(m, 1, flutterRates())
	if m.sways[1].peak() < faintestSway {
		m.sways[1] = sway{}
	}
	fine := newStage(e.c, fineStage, fineHigh, longStage)
	f := fine.fit(m.awake(), 10, 1e-3)
	f, made := fine.computed(f, e.c.step)
	f, likely := fine.otherWows(f)
	if f.unit.sways[0].peak() > 0 && f.normal != nil && fine.moves(f, e.left, e.c.rate) {
		e.adopt(f, append(likely, made...), fine)
	}
}

// computed decides whether the tone is that of a machine that is computed itself,
// step s a sample, as for a still unit. Where that cannot be told it gives the
// middle, and both ends beside it.
func (g *stage) computed(f swayed, step float64) (swayed, []swayed) {
	with := func(step float64) swayed {
		m := f.unit.clone()
		m.tone.step = step
		return g.fit(m, 4, 1e-5)
	}
	real, computed := with(0), with(step)
	switch gain := g.gain(real, computed); {
	case gain > surelyTold:
		return computed, nil
	case gain < -surelyTold:
		return real, nil
	}
	return with(undecided * step), []swayed{real, computed}
}

// starts are the units from which a motion is looked for: what the arrivals were
// guessed to be, and what the still fit made of them. The still fit may have taken
// a motion for almost anything, so it comes last.
func (e explanation) starts(seen []sight) []swaying {
	var tried []guess
	var all []swaying
	for _, look := range slices.Backward(seen) {
		echoes, leak := look.split()
		found := guesses(echoes, len(e.unit.delay), guessesTried)
		for _, g := range found {
			if g.miss > likelyGuess*found[0].miss || slices.ContainsFunc(tried, g.like) || len(all) == startsTried {
				continue
			}
			tried = append(tried, g)
			all = append(all, swaying{still: g.still(leak).withAllFeeds()})
		}
	}
	u := e.unit.withAllFeeds()
	if !e.leakSeen { // the still unit took a motion for it
		u.leaks, u.leak = false, 0
	}
	u.tone = shape{high: roughHigh, low: roughLow}
	return append(all, swaying{still: u})
}

// begin looks for a wow from each start and gives the unit that leaves least, false
// if none moves.
func (g *stage) begin(starts []swaying, rates []float64) (swaying, bool) {
	var best swaying
	least, moves := math.Inf(1), false
	for _, m := range starts {
		m.reach, m.parts = dullReach, []turned{turnLow} // a dull band tells little of the high cut
		with, cost, ok := g.search(m, 0, rates)
		if cost < least {
			best, least, moves = with, cost, ok
		}
		if ok && cost < calmEnough*g.noise*float64(len(g.wet)-g.count) {
			break
		}
	}
	best.reach = delayReach
	return best, moves
}

func (m swaying) awake() swaying {
	m.still = m.still.awake()
	return m
}

// withoutWeakFeeds takes heads out of the loop that feed it hardly, and then, the
// weakest first, those that the rest does without.
func (g *stage) withoutWeakFeeds(f swayed) swaying {
	m := f.unit.clone()
	top := 0.0
	for _, v := range m.fed {
		top = math.Max(top, math.Abs(v))
	}
	for k, v := range m.fed {
		if math.Abs(v) < math.Max(faintestFed, faintestTurn*top) {
			m.feeds[k], m.fed[k] = false, 0
		}
	}
	f = g.fit(m, 4, 1e-3)
	for {
		u := f.unit.clone()
		k := u.weakestFeed()
		if k < 0 {
			return f.unit
		}
		u.feeds[k], u.fed[k] = false, 0
		without := g.fit(u, 4, 1e-3)
		if g.gain(without, f) > keepPart && f.cost < 0.98*without.cost {
			return f.unit
		}
		f = without
	}
}

// weakestFeed is the head that feeds least, −1 if none does.
func (u *still) weakestFeed() int {
	weakest := -1
	for k, on := range u.feeds {
		if on && (weakest < 0 || math.Abs(u.fed[k]) < math.Abs(u.fed[weakest])) {
			weakest = k
		}
	}
	return weakest
}

// moves tells whether f explains so much more than a still unit does that the
// carrier must waver. left is what the still unit leaves of the take; another one
// is fitted beside it, for that one may have begun from a wrong guess.
func (g *stage) moves(f swayed, left []float64, rate float64) bool {
	still := swayed{cost: g.power(left, rate), count: f.count}
	m := f.unit.clone()
	m.sways = [2]sway{}
	if s := g.fit(m, 6, 1e-3); s.cost < still.cost {
		still = s
	}
	noise := g.noise * float64(f.count)
	return g.gain(still, f) > surelySways && f.cost-noise < worthSway*(still.cost-noise)
}

// adopt takes a wavering unit for what the take holds.
func (e *explanation) adopt(f swayed, likely []swayed, g *stage) {
	p, _ := g.play(&f.unit)
	e.unit = f.unit.still
	e.moves = &f.unit
	e.fitted = span{g.start + float64(g.count)/g.rate, g.start + float64(len(g.wet))/g.rate}
	// What is left is no white noise: it lies where the sound is.
	e.told = figuresOf(f.unit.still, f.covariance())
	e.told.widen(likely)
	e.left = make([]float64, len(e.c.wet))
	step := int(math.Round(e.c.rate / g.rate))
	from := int(math.Round(g.start * e.c.rate))
	for i := range e.left {
		if k := (i - from) / step; i >= from && k < len(p.rest) {
			e.left[i] = p.rest[k]
		}
	}
}

func (e explanation) seconds() float64 {
	return math.Min(longStage, float64(len(e.c.wet))/e.c.rate)
}

// wowRates are so near to each other that the true one lies in the valley of its
// neighbour over a take of that many seconds.
func wowRates(seconds float64) []float64 {
	var all []float64
	for hz := 0.25; hz < 4.2; hz += math.Max(0.35/seconds, 0.04*hz) {
		all = append(all, hz)
	}
	return all
}

func flutterRates() []float64 {
	var all []float64
	for hz := 4.2; hz < 20; hz += math.Max(0.12, 0.02*hz) {
		all = append(all, hz)
	}
	return all
}

// dullBands are the bands, up to Hz, of which the dullest that sounds is taken for
// finding a motion; in it the wet channel has to be so many times its noise.
var dullBands = []float64{600, 1000, 1600}

const dullAbove = 50.0

// dullest is the lowest band in which the wet channel still sounds.
func (s *spectra) dullest(noise float64) float64 {
	sum, at := 0.0, 1
	for _, high := range dullBands {
		end := s.bin(high)
		for ; at < end; at++ {
			sum += real(s.y[at])*real(s.y[at]) + imag(s.y[at])*imag(s.y[at])
		}
		if sum > dullAbove*noise*float64(s.length)*float64(end) {
			return high
		}
	}
	return dullBands[len(dullBands)-1]
}
