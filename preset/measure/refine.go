package measure

import "math"

// An extra is kept only if it leaves less than this share of the sum of squares:
// a take without drive or motion invites invented ones.
const worthKeeping = 0.7

// unexplained is from where on a rest above the noise is worth a search for its
// cause.
const unexplained = 1.25

// explained is what a right guess leaves at the most, dB above the noise.
const explained = 4.5

// longNote is the length of a note, s, beyond which it is no damped one.
const longNote = 0.7

// bench is a note at the rates and in the bands that its fit goes through.
type bench struct {
	full, half, low, dull sound // the take, ever duller
	fine, white           sound // its attacks, the second dull
}

func newBench(full, half sound, a attack) bench {
	white := sound{rate: half.rate, take: a.white, lead: half.lead, noise: a.noise}
	return bench{
		full: full, half: half,
		low: full.thinned(lowRate, lowBand), dull: full.thinned(dullRate, dullBand),
		fine: white, white: white.thinned(lowRate, lowBand),
	}
}

// refine fits a note from rough guesses to the end. The guesses are tried in
// their order until one leaves little more than noise.
func (b bench) refine(guesses []hypothesis, progress func(float64)) fitted {
	var best attempt
	for i, g := range guesses {
		a := b.try(g)
		if i == 0 || a.beyond() < best.beyond() {
			best = a
		}
		progress(0.1 + 0.6*float64(i+1)/float64(len(guesses)))
		if best.take.explained() {
			break
		}
	}
	if best.fromTake() {
		f := b.withoutWeakLoop(best.take)
		return b.full.fitTo(f.machine, f.free, f.rung, exact)
	}
	// The note rings over its echoes: the attacks know more.
	w := best.attacks
	return b.fine.fitTo(w.machine, w.free, w.rung, exact)
}

// attempt is what a guess comes to: fitted to the attacks, and to the take.
type attempt struct{ attacks, take fitted }

// fromTake tells whether the fit to the take is the better one.
func (a attempt) fromTake() bool {
	return a.take.explained() || !a.take.swallows() && a.take.beyond() < a.attacks.beyond()
}

func (a attempt) beyond() float64 {
	if a.fromTake() {
		return a.take.beyond()
	}
	return a.attacks.beyond()
}

// swallows tells whether the note is so long that echoes may pass for it.
func (f fitted) swallows() bool { return noteLengths[f.rung] > longNote }

// explained tells whether little is left but noise, the note not being so long
// that it explains everything.
func (f fitted) explained() bool { return !f.swallows() && f.beyond() < explained }

// try fits one guess up to half the band: to the attacks alone first, then to the
// take, with motion and drive where it asks for them.
func (b bench) try(g hypothesis) attempt {
	m := g.machine()
	w := b.white.bestLength(m, free{tone: true}, rough)
	f := b.low.bestLength(w.machine, w.free, rough)
	if f.residual > unexplained*f.sound.noise {
		m := w.machine.clone()
		m.loop = g.loop // wow hides the repeats from the attacks
		if d, ok := b.dull.findWow(m, w.free); ok {
			f = d
		}
	}
	f = b.half.betterLength(b.half.fitTo(f.machine, f.free, f.rung, rough), rough)
	f = b.half.tryDrive(f)
	return attempt{w, b.half.tryFlutter(f)}
}

// withoutWeakLoop leaves the loop out if the take can do without.
func (b bench) withoutWeakLoop(f fitted) fitted {
	if len(f.machine.feeds) == 0 || f.machine.loopAt(f.sound.rate) > weakLoop {
		return f
	}
	m := f.machine.clone()
	m.feeds, m.loop = nil, 0
	g := b.half.fitTo(m, f.free, f.rung, rough)
	if g.residual < 1.05*f.residual {
		return g
	}
	return f
}

// findWow looks for a wow that explains the sound. Without it the end of the note
// cannot be told, so several lengths are tried; ok is false if none is worth it.
func (s sound) findWow(m machine, f free) (best fitted, ok bool) {
	with := f
	with.slow = true
	for _, rung := range wowRungs {
		if noteLengths[rung] > s.length()-m.first() {
			continue
		}
		still := s.fitTo(m, f, rung, rough)
		rate, left := s.likelyRate(still, 0, slowRates)
		if left > worthKeeping {
			continue
		}
		g := still.machine.clone()
		g.wow[0] = motion{rate: rate}
		moved := s.bestLength(g, with, rough)
		if moved.machine.wow[0].rate < slowest || moved.residual > worthKeeping*still.residual {
			continue
		}
		if !ok || moved.news < best.news {
			best, ok = moved, true
		}
		if best.explained() {
			break
		}
	}
	return best, ok
}

// tryFlutter does the same for motion too quick for the dull sound to show.
func (s sound) tryFlutter(f fitted) fitted {
	if f.residual < unexplained*s.noise {
		return f
	}
	rate, left := s.likelyRate(f, 1, fastRates)
	if left > worthKeeping {
		return f
	}
	m := f.machine.clone()
	m.wow[1] = motion{rate: rate}
	with := f.free
	with.fast = true
	return better(f, s.bestLength(m, with, rough))
}

// tryDrive fits a saturating record path to what is unexplained.
func (s sound) tryDrive(f fitted) fitted {
	if f.residual < unexplained*s.noise {
		return f
	}
	m := f.machine.clone()
	m.drive, m.bias = 0.5/peakOf(s.take), 0.01
	with := f.free
	with.drive = true
	return better(f, s.bestLength(m, with, rough))
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
