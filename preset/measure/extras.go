package measure

import (
	"cmp"
	"slices"
)

// An extra is kept only if it leaves less than this share of what was not
// explained before: a take without drive or motion invites invented ones.
const worthKeeping = 0.7

// Wow and drive explain a little of anything: they have to leave less than this.
const (
	worthWow   = 0.35
	worthDrive = 0.5
)

// unexplained is from where on a rest, dB above the noise, is worth a search for
// its cause.
const unexplained = 4

const (
	mostExtras  = 3
	extrasTried = 2 // at a time
	// What one step promises is no more than a hint: a flutter has to promise to
	// leave no more than this.
	likelyEnough = 0.95
)

// wowRungs are the lengths of the note that the search for wow begins with, of
// noteLengths, the likeliest first.
var wowRungs = []int{6, 4, 8}

// shortRung is the length of the note that a fit with wow begins with.
const shortRung = 1

// slowest is the least rate of wow that a take of some seconds can tell, Hz.
const slowest = 0.25

// leastMotion is the least peak deviation of speed that is believed.
const leastMotion = 1e-4

// An extra is what a plain machine may lack: a part of it in a state in which it
// does nothing yet, or next to nothing.
type extra struct {
	there func(free) bool
	add   func(m *machine, f *free)
	wake  func(m *machine) // before the fit, where doing nothing is no start
}

func isSlow(f free) bool   { return f.slow }
func isFast(f free) bool   { return f.fast }
func isSecond(f free) bool { return f.second }
func isBell(f free) bool   { return f.bell }

// wows are the extras of slow motion, flutters those of fast: rates so near to
// each other that the true one lies in the valley of its neighbour.
func wows() []extra {
	var all []extra
	for _, hz := range []float64{0.35, 0.5, 0.7, 0.9, 1.15, 1.45, 1.8, 2.3, 2.9, 3.6} {
		all = append(all, extra{there: isSlow, add: func(m *machine, f *free) { m.wow[0], f.slow = motion{rate: hz}, true }})
	}
	return all
}

func flutters() []extra {
	var all []extra
	for _, hz := range []float64{4.3, 5, 5.8, 6.6, 7.4, 8.2, 9, 10, 11, 12.5, 14, 16} {
		all = append(all, extra{there: isFast, add: func(m *machine, f *free) { m.wow[1], f.fast = motion{rate: hz}, true }})
	}
	return all
}

// shapes are other tones than the plain one: a steeper high cut, a bell.
func shapes() []extra {
	all := []extra{{there: isSecond, add: func(m *machine, f *free) { f.second = true }}}
	for _, hz := range []float64{150, 350, 800, 1800} {
		all = append(all, extra{
			there: isBell, add: func(m *machine, f *free) { m.tone.bell, f.bell = bell{1e-6, hz, 0.8}, true },
			wake: func(m *machine) { m.tone.bell.gain = 0.1 },
		})
	}
	return all
}

// withShapes adds to a fit the tone or the drive that explains most of its rest,
// one after the other, as long as it is worth it.
func (s sound) withShapes(f fitted) fitted {
	for range mostExtras {
		if f.beyond() < unexplained {
			return f
		}
		best := f
		likely := s.likely(f, shapes())
		for _, r := range likely[:min(extrasTried, len(likely))] {
			if g := s.worth(f, r.machine, r.free, worthKeeping); g.residual < best.residual {
				best = g
			}
		}
		if !f.free.drive && best.beyond() > unexplained {
			m, with := f.machine.clone(), f.free
			peak := peakOf(s.take)
			m.bend, m.bias, with.drive = 0.25/(peak*peak), 0.01, true
			if g := s.worth(f, m, with, worthDrive); g.residual < best.residual {
				best = g
			}
		}
		if best.free == f.free {
			return f
		}
		f = s.betterLength(best, rough)
	}
	return f
}

// withFlutter adds fast motion to a fit if that is worth it.
func (s sound) withFlutter(f fitted) fitted {
	if f.beyond() < unexplained {
		return f
	}
	likely := s.likely(f, flutters())
	if len(likely) == 0 || likely[0].left > likelyEnough {
		return f
	}
	g := s.worth(f, likely[0].machine, likely[0].free, worthKeeping)
	if g.free == f.free || g.machine.wow[1].peak() < leastMotion {
		return f
	}
	return s.betterLength(g, rough)
}

// worth is the fit of the richer machine, or f if it does not leave less than
// share of the rest.
func (s sound) worth(f fitted, m machine, with free, share float64) fitted {
	g := s.fitTo(m, with, f.rung, rough)
	if g.residual > share*f.residual || g.news > f.news {
		return f
	}
	return g
}

// richer is a machine with an extra, and the share of the rest that would be left
// with it.
type richer struct {
	machine machine
	free    free
	left    float64
}

// likely adds each extra that f lacks to its machine and judges it by one step of
// the fit: the most promising first.
func (s sound) likely(f fitted, candidates []extra) []richer {
	p := player{sound: s}
	m := f.machine.clone()
	p.lasting(noteLengths[f.rung])
	r := make([]float64, len(s.take))
	if !p.rest(&m, r) {
		return nil
	}
	p.weigh(r)
	plain, x := p.problem(&m, m.knobs(f.free))
	base := newLines(len(x), plain.length)
	if !plain.residuals(x, r) || !plain.differentiate(x, r, base) {
		return nil
	}
	now := dot(r, r)
	var all []richer
	for _, e := range candidates {
		if e.there(f.free) {
			continue
		}
		v := richer{machine: f.machine.clone(), free: f.free}
		e.add(&v.machine, &v.free)
		more, y := p.problem(&v.machine, added(v.machine.knobs(f.free), v.machine.knobs(v.free)))
		l := newLines(len(y), more.length)
		if !more.differentiate(y, r, l) {
			continue
		}
		v.left = plain.and(more).promise(slices.Concat(x, y), now, base.and(l, r)) / now
		more.residuals(y, l.columns[0]) // puts the knobs back
		if e.wake != nil {
			e.wake(&v.machine)
		}
		all = append(all, v)
	}
	slices.SortStableFunc(all, func(a, b richer) int { return cmp.Compare(a.left, b.left) })
	return all
}

// added are the knobs of all that are not in plain; both point into one machine.
func added(plain, all []knob) []knob {
	var more []knob
	for _, k := range all {
		if !slices.ContainsFunc(plain, func(p knob) bool { return p.value == k.value }) {
			more = append(more, k)
		}
	}
	return more
}

// findWows looks for wows that explain the sound better than none. Without one the
// end of the note cannot be told, so several lengths are tried, until one explains
// the sound. Which of them is worth it, a sound of more band has to say: this one
// may hold little of the note.
func (s sound) findWows(h hypothesis, f free) []fitted {
	m := h.machine()
	var all []fitted
	for _, rung := range wowRungs {
		if noteLengths[rung] > s.length()-m.first() {
			continue
		}
		likely := s.likely(s.asItIs(m, f, rung), wows())
		if len(likely) == 0 {
			continue
		}
		g := s.fitTo(likely[0].machine, likely[0].free, rung, rough)
		all = append(all, g)
		if g.beyond() < 2*unexplained {
			break
		}
	}
	slices.SortStableFunc(all, func(a, b fitted) int { return cmp.Compare(a.news, b.news) })
	if len(all) > 0 {
		all[0] = s.fitTo(all[0].machine, all[0].free, all[0].rung, long)
	}
	return slices.DeleteFunc(all, func(g fitted) bool {
		return g.machine.wow[0].rate < slowest || g.machine.wow[0].peak() < leastMotion
	})
}

// withWow is the fit f with a wow, and perhaps flutter, if one was found that is
// worth it: if it leaves much less, or has heads as loud as they arrived where f
// has not.
func (b bench) withWow(f fitted, h hypothesis) fitted {
	g := b.bestWow(f, h)
	if !g.free.slow || f.like(h) && g.residual > worthWow*f.residual {
		return f
	}
	return b.low.withFlutter(g)
}

// bestWow tries the wows that were found with the heads that were found with them,
// then with the heads as they arrived, until one explains the note.
func (b bench) bestWow(f fitted, h hypothesis) fitted {
	best := f
	for _, d := range b.dull.findWows(h, f.free) {
		for _, m := range []fitted{d, b.low.asArrived(h, d)} {
			g := b.low.betterLength(b.low.fitTo(m.machine, d.free, m.rung, rough), rough)
			if g.like(h) && g.machine.wow[0].peak() >= leastMotion && (g.news < best.news || !best.like(h)) {
				best = g
			}
			if best.free.slow && best.beyond() < 2*unexplained {
				return best
			}
		}
	}
	return best
}

// asArrived is a fit with its heads and its loop put back to what arrived, and a
// short note, which leaves every echo to the heads: an echo that is taken for note
// is recorded with it, and then heads that are far too quiet explain all that
// follows.
func (s sound) asArrived(h hypothesis, f fitted) fitted {
	m := h.machine()
	m.wow, m.tone = f.machine.wow, f.machine.tone
	tone := m.tone.magnitude(1000, s.rate)
	for k := range m.gain {
		m.gain[k] /= tone
	}
	m.loop /= tone
	f.machine, f.rung = m, shortRung
	return f
}
