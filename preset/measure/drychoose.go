package measure

import (
	"cmp"
	"math"
	"slices"
)

const (
	guessesTried = 4
	shapesTried  = 2
	fewBins      = 24_000 // for rough fits
	someBins     = 100_000
	roughly      = 1e-4
	closely      = 1e-7

	// A figure that is free makes a fit more likely by 1 by chance (on the scale of
	// twice the logarithm). A part is kept that does so by keepPart, and that leaves
	// less than this share of the rest, for a model explains a little of anything.
	keepPart  = 20.0
	keepShare = 0.999
	// A feeding head is dropped if it feeds less than this.
	weakestFed = 0.01
)

var (
	roughHigh = 1 / (2 * math.Pi * 4500)
	roughLow  = 2 * math.Pi * 60.0
)

func (g guess) still(leak arrival) still {
	u := still{parts: []turned{turnHigh, turnLow}, tone: shape{high: roughHigh, low: roughLow}}
	for k, h := range g.heads {
		u.delay = append(u.delay, h.at)
		u.gain = append(u.gain, h.amp)
		u.fed = append(u.fed, 0)
		u.feeds = append(u.feeds, k == g.feed)
		if k == g.feed {
			u.fed[k] = g.fed
		}
	}
	u.leaks, u.leak, u.leakAt = leak.amp != 0, leak.amp, leak.at
	return u
}

// begin fits guesses at what is seen in the lower part of the band and gives the
// best.
func (s *spectra) begin(seen []sight, heads int) settled {
	low, middle := s.blocks(80, 700, fewBins), s.blocks(60, 2800, fewBins)
	best := settled{cost: math.Inf(1)}
	var tried []guess
	for _, look := range seen {
		echoes, leak := look.split()
		for _, g := range guesses(echoes, heads, guessesTried) {
			if slices.ContainsFunc(tried, g.like) {
				continue
			}
			tried = append(tried, g)
			f := s.fit(g.still(leak).withAllFeeds(), low, 6, 1e-3)
			f = s.fit(f.unit.awake(), middle, 12, 1e-3)
			if f.cost < best.cost {
				best = f
			}
		}
	}
	return best
}

func (u still) withAllFeeds() still {
	u = u.clone()
	for k := range u.feeds {
		u.feeds[k] = true
	}
	return u
}

// choose decides which parts a unit has by what they leave of the band. Noise must
// be that which the unit at hand leaves.
func (s *spectra) choose(u still) settled {
	blocks := s.blocks(25, s.top(&u), someBins)
	f := s.fit(u.awake(), blocks, 12, roughly)
	f = s.computed(f)
	f = s.weakFeedsOut(f)
	f = s.withLeak(f)
	f = s.withShapes(f)
	f = s.weakFeedsOut(f)
	return s.partsOut(f)
}

// computed decides whether the tone is that of a real machine or of one that is
// computed sample by sample itself. The two differ by a third of a sample in the
// delays; where that cannot be told the middle is taken.
func (s *spectra) computed(f settled) settled {
	with := func(step float64) settled {
		u := f.unit.clone()
		u.tone.step = step * s.step
		return s.fit(u, f.blocks, 12, closely)
	}
	real, computed := with(0), with(1)
	switch gain := s.gain(real, computed); {
	case gain > surelyTold:
		return computed
	case gain < -surelyTold:
		return real
	}
	return with(undecided)
}

// surelyTold is by how much likelier one of two tones has to be to be believed.
const surelyTold = 12.0

// shortHigh is the time constant, s, of a high cut that does next to nothing.
const shortHigh = 1.0 / (2 * math.Pi * 30_000)

// undecided is the step, in samples, that stands for not knowing.
const undecided = 0.45

// figures are those of a fit with their deviations; where it is not known what
// kind of tone a unit has, they hold what that makes: the truth lies to one side or
// the other, both as far away.
//
// A high cut that the fit did without makes every echo later all the same, if it
// has one: the delays are no surer than they would be with it.
func (s *spectra) figures(f settled) measured {
	m := figuresOf(f.unit, s.covariance(f))
	if f.unit.tone.step == undecided*s.step {
		u := f.unit.clone()
		u.tone.step = 0
		m.reachTo(figuresOf(s.fit(u, s.thinned(f.blocks), 8, closely).unit, nil))
	}
	if !slices.Contains(f.unit.parts, turnHigh) {
		g := s.richer(f, turnHigh)
		m.reachTo(figuresOf(g.unit, s.covariance(g)))
	}
	if s.heard(f) > dullTop {
		return m
	}
	// Such a sound hardly tells one shape from another, so that a deviation says
	// little; how far the shapes lie apart says more.
	for _, part := range []turned{turnSecond, turnLinear} {
		if !slices.Contains(f.unit.parts, part) {
			m.reachTo(figuresOf(s.richer(f, part).unit, nil))
		}
	}
	return m
}

// dullTop is the frequency, Hz, below which a sound that ends there does not tell a
// high cut from a delay, whatever the shape of the cut.
const dullTop = 2400.0

// heard is the frequency, Hz, up to which there was something to fit to.
func (s *spectra) heard(f settled) float64 { return s.hertz(f.blocks[len(f.blocks)-1].to) }

// richer is the fit with one part more in the tone.
func (s *spectra) richer(f settled, part turned) settled {
	u := f.unit.clone()
	u.parts = append(u.parts, part)
	if part == turnHigh {
		u.tone.high = shortHigh
	}
	return s.fit(u, s.thinned(f.blocks), 8, closely)
}

// weakFeedsOut takes heads out of the loop, the weakest first, as long as the rest
// does without them.
func (s *spectra) weakFeedsOut(f settled) settled {
	for {
		weakest := -1
		for k, on := range f.unit.feeds {
			if on && (weakest < 0 || math.Abs(f.unit.fed[k]) < math.Abs(f.unit.fed[weakest])) {
				weakest = k
			}
		}
		if weakest < 0 {
			return f
		}
		u := f.unit.clone()
		u.feeds[weakest], u.fed[weakest] = false, 0
		g := s.fit(u, f.blocks, 10, roughly)
		if math.Abs(f.unit.fed[weakest]) > weakestFed && s.better(g, f) {
			return f
		}
		f = g
	}
}

// better tells whether the richer fit is worth its figures.
func (s *spectra) better(plain, rich settled) bool {
	return s.gain(plain, rich) > keepPart && rich.cost < keepShare*plain.cost
}

// withLeak tries whether the direct sound is heard in the wet channel.
func (s *spectra) withLeak(f settled) settled {
	u := f.unit.clone()
	if u.leaks {
		u.leaks, u.leak = false, 0
		if g := s.fit(u, f.blocks, 8, roughly); !s.better(g, f) {
			return g
		}
		return f
	}
	u.leaks, u.leak, u.leakAt = true, 1e-4, 0
	if g := s.fit(u, f.blocks, 8, roughly); s.better(f, g) {
		return g
	}
	return f
}

// toneShapes are what the tone of a unit may have beyond one-pole cuts.
func toneShapes() []func(*still) {
	with := func(parts ...turned) func(*still) {
		return func(u *still) { u.parts = append(u.parts, parts...) }
	}
	all := []func(*still){with(turnSecond), with(turnLinear), with(turnSquare)}
	for _, hz := range []float64{200, 600, 1700, 4000} {
		bell := with(turnLift, turnMiddle, turnWide)
		all = append(all, func(u *still) {
			bell(u)
			u.tone.lift, u.tone.middle, u.tone.wide = 0.1, 2*math.Pi*hz, 1
		})
	}
	return all
}

// withShapes adds to the tone what explains most of the rest, as long as it is
// worth it.
func (s *spectra) withShapes(f settled) settled {
	rough := s.thinned(f.blocks)
	for range 3 {
		plain := s.fit(f.unit, rough, 3, roughly)
		var likely []settled
		for _, add := range toneShapes() {
			u := plain.unit.clone()
			if add(&u); !repeats(u.parts) {
				likely = append(likely, s.fit(u, rough, 2, roughly))
			}
		}
		slices.SortStableFunc(likely, func(a, b settled) int { return cmp.Compare(a.cost, b.cost) })
		best := plain
		for _, g := range likely[:min(len(likely), shapesTried)] {
			if g = s.fit(g.unit, rough, 8, roughly); g.cost < best.cost {
				best = g
			}
		}
		if !s.better(plain, best) {
			return f
		}
		f = s.fit(best.unit, f.blocks, 8, roughly)
	}
	return f
}

func repeats(parts []turned) bool {
	sorted := slices.Sorted(slices.Values(parts))
	return len(slices.Compact(sorted)) < len(parts)
}

// thinned is every few of the blocks: enough for comparing.
func (s *spectra) thinned(blocks []stretch) []stretch {
	skip := 1 + total(blocks)/fewBins
	var some []stretch
	for i := 0; i < len(blocks); i += skip {
		some = append(some, blocks[i])
	}
	return some
}

// partsOut takes parts out of the tone, one after the other, as long as the rest
// does without one.
func (s *spectra) partsOut(f settled) settled {
	for range f.unit.parts {
		g, ok := s.partOut(f)
		if !ok {
			return f
		}
		f = g
	}
	return f
}

func (s *spectra) partOut(f settled) (settled, bool) {
	for _, part := range []turned{turnSquare, turnLinear, turnSecond, turnLow, turnHigh} {
		i := slices.Index(f.unit.parts, part)
		if i < 0 {
			continue
		}
		u := f.unit.clone()
		u.parts = slices.Delete(u.parts, i, i+1)
		*u.tone.dial(part).value = 0
		if g := s.fit(u, f.blocks, 8, roughly); !s.better(g, f) {
			return g, true
		}
	}
	return f, false
}

// finish fits to all bins, the noise learnt anew and what lies beyond the end of
// the take left open.
func (s *spectra) finish(u still) (settled, []float64) {
	s.reflect(&u)
	s.listen(&u)
	f := s.fit(u, s.blocks(25, s.top(&u), someBins), 6, closely)
	s.listen(&f.unit)
	f = s.fit(f.unit, s.blocks(25, s.top(&f.unit), math.MaxInt), 2, closely)
	return f, s.reflect(&f.unit)
}
