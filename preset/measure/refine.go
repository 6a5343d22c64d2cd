package measure

import "math"

// An extra is kept only if it leaves less than this share of the sum of squares:
// a take without drive or motion invites invented ones.
const worthKeeping = 0.7

// unexplained is from where on a rest above the noise is worth a search for its
// cause.
const unexplained = 1.25

// explained is what a right guess leaves at the most, in parts of the noise.
const explained = 3

// bench is a note at the rates and in the bands that its fit goes through.
type bench struct {
	full, half, low, dull, white sound
}

func newBench(full, half sound, a attack) bench {
	white := sound{rate: half.rate, take: a.white, lead: half.lead, noise: a.noise}
	return bench{
		full: full, half: half,
		low: full.thinned(lowRate, lowBand), dull: full.thinned(dullRate, dullBand),
		white: white.thinned(lowRate, lowBand),
	}
}

// refine fits a note from rough guesses to the end. The guesses are tried in
// their order until one leaves little more than noise.
func (b bench) refine(guesses []hypothesis, progress func(float64)) fitted {
	best := fitted{news: math.Inf(1)}
	for i, g := range guesses {
		f := b.try(g)
		if f.news < best.news || i == 0 {
			best = f
		}
		progress(0.1 + 0.6*float64(i+1)/float64(len(guesses)))
		if best.residual < explained*best.noise {
			break
		}
	}
	f := b.full.fitLength(best.lasting, best.machine, best.free, belief{}, 4, 1e-4)
	progress(0.95)
	return f
}

// try fits one guess up to half the band: to the attacks alone first, then to the
// take, with motion and drive where it asks for them.
func (b bench) try(g hypothesis) fitted {
	m := g.machine()
	known := belief{gain: m.gain, loop: m.loop}
	w := b.white.bestLength(m, free{tone: true}, known)
	f := b.low.bestLength(w.machine, w.free, known)
	if f.residual > unexplained*f.noise {
		m := w.machine.clone()
		m.loop = known.loop // wow hides the repeats from the attacks
		if d := b.dull.tryWow(b.dull.bestLength(m, w.free, known), known); d.free.slow {
			f = d
		}
	}
	f = b.half.bestLength(f.machine, f.free, known)
	f = b.half.tryDrive(f, known)
	return b.half.tryFlutter(f)
}

// tryWow fits wow to what is unexplained, if there is some.
func (s sound) tryWow(f fitted, b belief) fitted {
	if f.residual < unexplained*s.noise {
		return f
	}
	rate, left := s.likelyRate(f, 0, slowRates)
	if left > worthKeeping {
		return f
	}
	g := f.machine.clone()
	g.wow[0] = motion{rate: rate}
	with := f.free
	with.slow = true
	moved := s.fitLength(f.lasting, g, with, b, 8, 1e-3)
	if moved.residual > worthKeeping*f.residual || moved.machine.wow[0].rate < slowest {
		return f
	}
	return s.bestLength(moved.machine, with, b)
}

// tryFlutter does the same for motion too quick for the low band to show.
func (s sound) tryFlutter(f fitted) fitted {
	if f.residual < unexplained*s.noise {
		return f
	}
	rate, left := s.likelyRate(f, 1, fastRates)
	if left > worthKeeping {
		return f
	}
	g := f.machine.clone()
	g.wow[1] = motion{rate: rate}
	with := f.free
	with.fast = true
	return better(f, s.fitLength(f.lasting, g, with, belief{}, 6, 1e-3))
}

// tryDrive fits a saturating record path to what is unexplained.
func (s sound) tryDrive(f fitted, b belief) fitted {
	if f.residual < unexplained*s.noise {
		return f
	}
	g := f.machine.clone()
	g.drive, g.bias = 0.5/peakOf(s.take), 0.01
	with := f.free
	with.drive = true
	return better(f, s.fitLength(f.lasting, g, with, b, 8, 1e-3))
}

// better is the fit with the extra if it is clearly worth it.
func better(without, with fitted) fitted {
	if with.residual < worthKeeping*without.residual && with.news < without.news {
		return with
	}
	return without
}

func peakOf(x []float64) float64 {
	top := 1e-9
	for _, v := range x {
		top = math.Max(top, math.Abs(v))
	}
	return top
}
