package measure

import "math"

// knob is a figure of a machine that the fit may turn.
type knob struct {
	value     *float64
	step      float64 // of the difference quotient
	low, high float64
}

// free says which figures the fit may turn beside delays, gains and loop.
type free struct {
	tone, second, bell, drive, slow, fast bool
}

// How far a delay may move from where a fit began: less than the distance to
// the next echo, more than any wrong start.
const delayReach = 0.004 // s

// knobs are the free figures of m. They point into m.
func (m *machine) knobs(f free) []knob {
	var all []knob
	for k := range m.delay {
		d := m.delay[k]
		all = append(all, knob{&m.delay[k], 1e-8, math.Max(nearest/2, d-delayReach), d + delayReach})
	}
	for k := range m.gain {
		all = append(all, knob{&m.gain[k], 1e-6, -30, 30})
	}
	if len(m.feeds) > 0 {
		all = append(all, knob{&m.loop, 1e-6, -2, 2})
	}
	if f.tone {
		all = append(all, knob{&m.tone.highCut, 1e-8, 0, 2e-3}, knob{&m.tone.lowCut, 1e-2, 0, 1000})
	}
	if f.second {
		all = append(all, knob{&m.tone.second, 1e-12, 0, 1e-6})
	}
	if f.bell {
		b := &m.tone.bell
		all = append(all, knob{&b.gain, 1e-4, -15, 15}, knob{&b.middle, 1e-2, 60, 5000}, knob{&b.quality, 1e-5, 0.3, 6})
	}
	if f.drive {
		all = append(all, knob{&m.bend, 1e-4, 0, 1e4}, knob{&m.bias, 1e-5, -1.5, 1.5})
	}
	for i, on := range []bool{f.slow, f.fast} {
		if on {
			w, rates := &m.wow[i], [][2]float64{{0.1, 4}, {4, 20}}[i]
			all = append(all, knob{&w.sine, 1e-7, -0.02, 0.02}, knob{&w.cosine, 1e-7, -0.02, 0.02},
				knob{&w.rate, 1e-5, rates[0], rates[1]})
		}
	}
	return all
}

// problem is the sum of squares that turning the knobs of m makes small: what
// the echoes do not explain after the note.
func (p *player) problem(m *machine, knobs []knob) (problem, []float64) {
	pr := problem{length: len(p.take)}
	x := make([]float64, len(knobs))
	for i, k := range knobs {
		x[i] = *k.value
		pr.step = append(pr.step, k.step)
		pr.low = append(pr.low, k.low)
		pr.high = append(pr.high, k.high)
	}
	pr.residuals = func(x, r []float64) bool {
		for i, k := range knobs {
			*k.value = x[i]
		}
		ok := p.rest(m, r)
		for t, w := range p.weight {
			r[t] *= w
		}
		return ok
	}
	return pr, x
}

// fit turns the free figures of m until what the echoes do not explain is as
// small as it gets.
func (p *player) fit(m machine, f free, rounds int, enough float64) (machine, solution) {
	work := m.clone()
	knobs := work.knobs(f)
	pr, x := p.problem(&work, knobs)
	s := pr.levenberg(x, rounds, enough)
	for i, k := range knobs {
		*k.value = s.x[i]
	}
	return work, s
}

// newsOf is how much in the take comes as news to a machine, note and errors
// alike: the mean over blocks of 6 ms of the level of what is left, in dB above
// the noise (mean square). A wrong machine makes news of every echo, whatever it
// takes for the note.
func newsOf(left []float64, rate, noise float64) float64 {
	levels := blockLevels(left, max(1, int(0.006*rate)))
	sum := 0.0
	for _, l := range levels {
		sum += 10 * math.Log10(math.Max(l, noise)/noise)
	}
	return sum / math.Max(1, float64(len(levels)))
}
