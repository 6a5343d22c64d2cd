package measure

import (
	"math"

	"echowright/preset"
)

// knownDry measures a take whose direct sound is known: any playing will do, for
// echoes that overlap are told apart by it.
//
// What the wet channel holds of the dry one is found by correlation (dryarrivals),
// explained by heads and their repeats (dryguess), and fitted as a whole on the
// spectra (drystill, dryfit), where delays are exact however fine. Which parts a
// unit has is decided by what they leave (drychoose). Clocks that drift are found
// by comparing early and late parts (drydrift), and a carrier that wavers is played
// along the take (drymotion).
func knownDry(take Take, o Options) (Result, error) {
	c, err := newChannels(take)
	if err != nil {
		return Result{}, err
	}
	c = c.corrected(c.drift())
	seen := c.look(sightHigh, sightDull)
	if err := c.refusal(seen[0], len(o.Heads)); err != nil {
		return Result{}, err
	}
	o.progress(0.2)
	a := c.explained(seen, len(o.Heads), o.progress)
	if err := a.refusal(len(o.Heads)); err != nil {
		return Result{}, err
	}
	o.progress(1)
	return a.result(o.Heads), nil
}

// explained is what explains the channels best: a steady unit, one that sings, or
// one whose carrier wavers.
func (c channels) explained(seen []sight, heads int, progress func(float64)) explanation {
	e, s := c.explain(seen, heads, progress)
	if c.sings() && e.explained() < mostExplained {
		if loud, ok := c.explainSinging(heads, progress); ok && 1-loud.explained() < worthSinging*(1-e.explained()) {
			return loud
		}
	}
	if !e.restless() {
		return e
	}
	s.y = s.transform(e.c.wet)
	e.sway(seen, s.dullest(e.noise()))
	e.silent = e.doubtfulHeads()
	if e.moves != nil {
		return e
	}
	e.told.doubt(len(e.unit.delay), e.roughness())
	if heads > 0 {
		e.findUnnamed(s, seen)
	}
	return e
}

// leastExplained is the share of the wet channel's power that a unit must explain.
const leastExplained = 0.5

// mostExplained is the same of a take that does not die away, for which another way
// is tried then.
const mostExplained = 0.99

// worthSinging is the share of the rest that a loop that sings may leave.
const worthSinging = 0.5

// split tells the echoes from the direct sound, if that is heard too.
func (s sight) split() (echoes []arrival, leak arrival) {
	for _, a := range s.arrivals {
		if math.Abs(a.at) > leakReach {
			echoes = append(echoes, a)
		} else if math.Abs(a.amp) > math.Abs(leak.amp) {
			leak = a
		}
	}
	return echoes, leak
}

// explanation is what an attempt to explain the wet channel came to.
type explanation struct {
	c      channels
	unit   still
	told   measured
	left   []float64 // of the wet channel, sample by sample
	counts []counted // for other numbers of heads, where none was named
	moves  *swaying  // nil while the carrier does not waver
	fitted span      // where moves was fitted
	// unnamed is where a head sounds that was not named, s; 0: nowhere.
	unnamed float64
	silent  int     // heads that may as well not be there
	heard   float64 // Hz up to which there was something to fit to
	// leakSeen tells that the direct sound stood out of the wet channel at sight.
	leakSeen bool
}

// explain is what a steady unit explains, and the spectra it was fitted to.
func (c channels) explain(seen []sight, heads int, progress func(float64)) (explanation, *spectra) {
	s := newSpectra(c.dry, c.wet, c.rate)
	s.dryNoise = c.dryNoise * float64(s.length)
	s.limit, s.step = c.limit(), c.step
	s.assume(math.Max(c.wetNoise, 1e-4*meanSquare(c.wet)))
	e := explanation{c: c}
	_, leak := seen[0].split()
	e.leakSeen = leak.amp != 0
	var f settled
	if heads == 0 {
		f, e.counts = s.count(seen)
	} else {
		f = s.begin(seen, heads)
	}
	progress(0.4)
	s.listen(&f.unit)
	f = s.choose(f.unit)
	progress(0.7)
	f, e.left = s.finish(f.unit)
	for range driftRounds {
		drift := s.driftOf(f)
		if drift == 0 {
			break
		}
		g, next := e.drifting(s, f, drift)
		if meanSquare(next.left) > worthSway*meanSquare(e.left) && next.restless() {
			s.y, s.limit = s.transform(c.wet), c.limit()
			break
		}
		f, e, c = g, next, next.c
	}
	e.unit = f.unit
	e.told, e.heard = s.figures(f), s.heard(f)
	e.silent = e.doubtfulHeads()
	return e, s
}

// drifting is the explanation and its fit with a drift of the clocks taken out.
func (e explanation) drifting(s *spectra, f settled, drift float64) (settled, explanation) {
	e.c = e.c.corrected(e.c.drifted + drift)
	s.y, s.limit = s.transform(e.c.wet), e.c.limit()
	f, e.left = s.finish(f.unit)
	return f, e
}

// explained is the share of the wet channel's power that the unit makes.
func (e explanation) explained() float64 {
	return 1 - meanSquare(e.left)/meanSquare(e.c.wet)
}

// roughness is the amplitude ratio to the wet channel of what is left and is no
// noise, 0 where that is little more than noise.
func (e explanation) roughness() float64 {
	rest := e.restPower()
	if 10*math.Log10(rest/e.noise()) < unexplainedDB {
		return 0
	}
	return math.Sqrt((rest - e.noise()) / meanSquare(e.c.wet))
}

// noise is the mean square of the wet channel's noise: that of its quiet, else
// what is left.
func (e explanation) noise() float64 {
	if e.c.wetNoise > 0 {
		return e.c.wetNoise
	}
	return meanSquare(e.left)
}

func (e explanation) result(heads []int) Result {
	for k := len(heads); k < len(e.unit.delay); k++ {
		heads = append(heads, k+1)
	}
	leastDelay, leastLevel := leastDryDelaySD, leastDryLevelSD
	if e.moves != nil {
		leastDelay, leastLevel = leastMovingDelaySD, leastMovingLevelSD
	}
	r := Result{
		Unit:     e.unit.profile(e.told, heads, e.c.rate, leastDelay, leastLevel),
		Warnings: e.warnings(),
		Noise:    preset.Decibels(10 * math.Log10(e.noise())),
		Residual: preset.Decibels(10 * math.Log10(e.restPower())),
	}
	r.Onsets, r.Note = e.c.onsets(), e.c.noteLength()
	floor := math.Max(-60, 10*math.Log10(e.noise()/meanSquare(e.c.dry))-10)
	r.Echoes = e.unit.echoes(e.told, heads, floor)
	r.Left, r.LeftStep = e.leftLevels()
	r.Speed, r.SpeedStep = e.speed()
	if e.moves != nil {
		r.Unit.Motion = e.moves.words()
	}
	return r
}
