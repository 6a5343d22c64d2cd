package measure

import "math"

// explained is what a right guess leaves at the most, dB above the noise.
const explained = 8

// clearAttacks is what the attacks leave unexplained, dB above the noise, where they
// tell the heads clearly.
const clearAttacks = 12

// muchMiss is the share of the arrivals that a start may explain less than the
// first and be tried still, where the attacks tell the heads clearly.
const muchMiss = 0.15

// againExplained is what a machine that is known already leaves at the most.
const againExplained = 5

// betterBy is by how much less, dB, a later start has to leave than an earlier one.
const betterBy = 1

// preferTake is by how much more, dB, the take may leave unexplained than its
// attacks to be preferred still: it holds more to learn from.
const preferTake = 10

// longNote is the length of a note, s, beyond which it is no damped one.
const longNote = 0.5

// unlike is by how much a head may come out louder or softer, dB, than it seemed
// when it was found.
const unlike = 8

// needless is a loop without which the rest grows by no more than this.
const needless = 1.1

// bench is a note at the rates and in the bands that its fit goes through, ever
// duller.
type bench struct{ full, half, low, dull sound }

func newBench(full, half sound) bench {
	return bench{full: full, half: half, low: full.thinned(lowRate, lowBand), dull: full.thinned(dullRate, dullBand)}
}

// refine fits a note from rough guesses to the end. The guesses are tried in
// their order until one leaves little more than noise; where the first does not,
// what it leaves shows the way to a better one.
func (b bench) refine(starts []start, found []arrival, progress func(float64)) fitted {
	best := b.try(starts[0], b.attacks(starts[0]))
	for i := 1; !best.good() && i <= len(starts); i++ {
		progress(0.1 + 0.6*float64(i)/float64(len(starts)))
		if i == 1 {
			best = best.or(b.pursue(starts[0], best, found))
			continue
		}
		g := starts[i-1]
		if best.attacks.beyond() < clearAttacks && g.miss > 3*starts[0].miss+muchMiss {
			break // no start is left that tells as much
		}
		best = best.or(b.try(g, b.attacks(g)))
	}
	if best.fromTake() {
		return b.finish(best.take.withoutWeakLoop())
	}
	// The note rings over its echoes: the attacks know more.
	w := best.attacks.withoutWeakLoop()
	f := best.fine.withShapes(best.fine.fitTo(w.machine, w.free, w.rung, exact))
	f.white = true
	return f
}

// again fits what an earlier note told of the same machine to another note: only
// where the motion stands is new. ok is false if that does not explain it.
func (b bench) again(before fitted) (f fitted, ok bool) {
	m := before.machine.clone()
	for i := range m.wow {
		m.wow[i].sine, m.wow[i].cosine = 0, 0
	}
	if before.free.slow {
		slow := before.free
		slow.fast = false
		d := b.dull.fitTo(m, slow, before.rung, long)
		m.wow[0] = d.machine.wow[0]
	}
	f = b.half.fitTo(m, before.free, before.rung, rough)
	if f.beyond() > againExplained {
		return f, false
	}
	return b.finish(f), true
}

// finish takes a fit to the full band, where a tone sounds a little different.
func (b bench) finish(f fitted) fitted {
	work := exact
	if f.free.second || f.free.bell {
		work = rough
	}
	full := b.full.fitTo(f.machine, f.free, f.rung, work)
	if f.free.second || f.free.bell {
		full = full.withoutNeedlessShape()
	}
	if full.beyond() > f.beyond()+1 {
		return f
	}
	return full
}

// withoutNeedlessShape leaves out the bell or the steeper cut if the sound can do
// without: at a lower rate they may have stood for what that rate does to a tone.
func (f fitted) withoutNeedlessShape() fitted {
	m, plain := f.machine.clone(), f.free
	m.tone.second, m.tone.bell, plain.second, plain.bell = 0, bell{}, false, false
	if g := f.sound.fitTo(m, plain, f.rung, rough); g.residual < needless*f.residual {
		return g
	}
	return f
}

// attempt is what a guess comes to: fitted to the attacks, and to the take.
type attempt struct {
	fine          sound // the attacks in full
	attacks, take fitted
	// alike: the take's fit has heads about as loud as their arrivals, and a note
	// that is not so long that it explains everything.
	alike bool
}

// fromTake tells whether the fit to the take is the better one.
func (a attempt) fromTake() bool {
	return a.alike && (a.take.explained() || a.take.beyond() < a.attacks.beyond()+preferTake)
}

// swallows tells whether the note is so long that echoes may pass for it.
func (f fitted) swallows() bool { return noteLengths[f.rung] > longNote }

// shorter is the fit with a note that does not swallow echoes, if that explains the
// sound too: before a drive was known, the note may have had to stand for it.
func (s sound) shorter(f fitted) fitted {
	for _, rung := range []int{6, 7} {
		if g := s.fitTo(f.machine, f.free, rung, rough); g.explained() {
			return g
		}
	}
	return f
}

// like tells whether the heads are about as loud as their arrivals were.
func (f fitted) like(h hypothesis) bool {
	tone := f.machine.tone.magnitude(1000, f.sound.rate)
	for k, a := range h.heads {
		if math.Abs(decibels(f.machine.gain[k]*tone)-decibels(a.amp)) > unlike {
			return false
		}
	}
	return true
}

// explained tells whether little is left but noise, the note not being so long
// that it explains everything.
func (f fitted) explained() bool { return !f.swallows() && f.beyond() < explained }

// or is the better of two attempts, the first where there is little to choose. The
// attacks stay those of the first, which is the likelier one, unless the other
// explains the same ones better.
func (a attempt) or(o attempt) attempt {
	same := &o.fine.take[0] == &a.fine.take[0]
	if same && o.attacks.news < fewerNews*a.attacks.news {
		a.fine, a.attacks = o.fine, o.attacks
	}
	if o.alike && (!a.alike || o.take.beyond() < a.take.beyond()-betterBy) {
		a.take, a.alike = o.take, true
	}
	return a
}

// good tells whether the take is explained as it should be.
func (a attempt) good() bool { return a.alike && a.take.explained() }

// fine are the attacks that a start was found with, in half the band.
func (b bench) fine(g start) sound {
	return sound{rate: b.half.rate, take: g.attack.white, lead: b.half.lead, noise: g.attack.noise, longest: longestAttack}
}

// attacks fits a guess to the attacks alone, in little of their band.
func (b bench) attacks(g start) fitted {
	return b.fine(g).thinned(lowRate, lowBand).bestLength(g.machine(), free{tone: true}, rough)
}

// try fits one guess up to half the band, from its fit w to the attacks on: with
// motion and drive where the take asks for them.
func (b bench) try(g start, w fitted) attempt {
	f := b.low.bestLength(w.machine, w.free, rough)
	if f.beyond() > unexplained || !f.like(g.hypothesis) {
		// Wow spoils the fit to the attacks, and may pass for a long note: begin again with the arrivals.
		f = b.withWow(f, g.hypothesis)
	}
	f = b.half.betterLength(b.half.fitTo(f.machine, f.free, f.rung, rough), rough)
	if f.free.slow && !f.free.fast {
		f = b.half.withFlutter(f)
	}
	if f.like(g.hypothesis) {
		f = b.half.withShapes(f)
	}
	if f.free.drive && f.swallows() {
		f = b.half.shorter(f)
	}
	return attempt{b.fine(g), w, f, f.like(g.hypothesis) && !f.swallows()}
}

// withoutWeakLoop leaves the loop out if the sound can do without.
func (f fitted) withoutWeakLoop() fitted {
	if len(f.machine.feeds) == 0 || f.machine.loopAt(f.sound.rate) > weakLoop {
		return f
	}
	m := f.machine.clone()
	m.feeds, m.loop = nil, 0
	if g := f.sound.fitTo(m, f.free, f.rung, rough); g.residual < needless*f.residual {
		return g
	}
	return f
}
