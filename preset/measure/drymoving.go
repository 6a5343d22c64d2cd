package measure

import (
	"math"
	"slices"
)

// performance is what a unit was heard to do on a stage.
type performance struct {
	memory []float64   // what was recorded, from reach samples before the first on
	heads  [][]float64 // what each head reads
	rest   []float64   // what is left of the wet channel
}

// play plays m along the dry channel and gives what it did; false for a machine
// that cannot be played or that runs away.
func (g *stage) play(m *swaying) (performance, bool) {
	least := slices.Min(m.delay)
	reach := g.reach(m)
	block := min(2048, int(least*g.rate*0.97)-taps)
	if block < 1 || reach > 1<<24 {
		return performance{}, false
	}
	p := performance{memory: make([]float64, reach+len(g.dry)), rest: slices.Clone(g.wet)}
	for range m.delay {
		p.heads = append(p.heads, make([]float64, len(g.dry)))
	}
	path := g.weighing.recorder(&m.tone)
	back, places := make([]float64, block), make([]float64, block)
	for at := 0; at < len(g.dry); at += block {
		n := min(block, len(g.dry)-at)
		rest := p.rest[at : at+n]
		clear(back)
		for k, d := range m.delay {
			out := p.heads[k][at : at+n]
			g.head(out, p.memory, reach+at, at, d, m, places[:n])
			gain, fed := m.gain[k], m.fed[k]
			for i, v := range out {
				rest[i] -= gain * v
				back[i] += fed * v
			}
		}
		for i, v := range back[:n] {
			p.memory[reach+at+i] = path.step(g.dry[at+i] + v)
		}
	}
	if m.leaks {
		g.takeLeak(p.rest, m.leak, m.leakAt*g.rate)
	}
	end := p.rest[len(p.rest)-1]
	return p, !math.IsNaN(end) && math.Abs(end) < 1e6
}

// reach is how many samples of silence stand before the memory's first.
func (g *stage) reach(m *swaying) int { return int(slices.Max(m.delay)*g.rate*1.05) + 2*taps }

// rehearsal plays a unit again and again while its dials are turned. Where only one
// of them was turned since it last played in full, and that one does not reach the
// loop, no more is played than what changes.
type rehearsal struct {
	stage *stage
	unit  *swaying
	dials []dial
	x     []float64 // the dials when it last played in full
	last  performance
	reach int
}

func (r *rehearsal) residuals(x, left []float64) bool {
	turned := r.turned(x)
	place(r.dials, x)
	if len(turned) == 1 && r.light(turned[0], left) {
		return true
	}
	p, ok := r.stage.play(r.unit)
	if !ok {
		return false
	}
	if len(turned) != 1 {
		r.x, r.last, r.reach = slices.Clone(x), p, r.stage.reach(r.unit)
	}
	copy(left, p.rest[r.stage.count:])
	return true
}

// turned are the dials that were turned since it last played in full.
func (r *rehearsal) turned(x []float64) []int {
	var all []int
	for i, v := range x {
		if r.x == nil || v != r.x[i] {
			all = append(all, i)
		}
	}
	return all
}

// light fills left with what is left after one dial was turned, false where all has
// to be played for that.
func (r *rehearsal) light(turned int, left []float64) bool {
	d, g := r.dials[turned], r.stage
	was := r.x
	if was == nil {
		return false
	}
	switch {
	case d.what == turnGain:
		by := *d.value - was[turned]
		out := r.last.heads[d.head][g.count:]
		for i, v := range r.last.rest[g.count:] {
			left[i] = v - by*out[i]
		}
		return true
	case d.what == turnDelay && !r.unit.feeds[d.head]:
		out, places := make([]float64, len(left)), make([]float64, len(left))
		g.head(out, r.last.memory, r.reach+g.count, g.count, *d.value, r.unit, places)
		gain, before := r.unit.gain[d.head], r.last.heads[d.head][g.count:]
		for i, v := range r.last.rest[g.count:] {
			left[i] = v - gain*(out[i]-before[i])
		}
		return true
	}
	return false
}
