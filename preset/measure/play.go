package measure

import (
	"math"
	"slices"
)

// player plays machines along a sound, sample by sample.
type player struct {
	sound
	tape tape
	// note says for every sample how much of what is left of the take counts as
	// note, 1 to 0, and weight how much an error counts there: 1/σ.
	note, weight []float64
}

// lasting sets how long the note lasts, s from its onset.
func (p *player) lasting(t float64) {
	p.note = make([]float64, len(p.take))
	end, fade := float64(p.lead)+t*p.rate, noteFade*p.rate
	for i := range p.note {
		p.note[i] = 1 - rise(float64(i), end, end+fade)
	}
}

// weigh sets what an error counts: 1/σ of the noise after the note, and while the
// note may last 1/σ of noise and note together. How strong the note is then is
// read from what the echoes leave, block by block. A note decays: what rises
// again is an echo that is not understood yet, and counts as an error.
func (p *player) weigh(left []float64) {
	p.weight = make([]float64, len(p.take))
	size := max(1, int(blockTime*p.rate))
	back := int(math.Round(riseTime / blockTime))
	var powers []float64
	for at := 0; at < len(left); at += size {
		end := min(at+size, len(left))
		note := 0.0
		if p.note[at] > 0 {
			note = math.Max(0, meanSquare(left[at:end])-p.noise)
			if at > p.lead+int(attackTime*p.rate) {
				note = math.Min(note, riseMost*math.Max(slices.Min(powers[max(0, len(powers)-back):]), 0.1*p.noise))
			}
			powers = append(powers, note)
		}
		w := 1 / math.Sqrt(note+p.noise)
		for i := at; i < end; i++ {
			p.weight[i] = w
		}
	}
}

// rest plays m along the take: what the echoes do not explain is the note as far
// as p.note says so, and an error else. It fills left with take − echoes for
// every sample and reports whether all went well: false for a machine that cannot
// be played at this rate or that runs away.
func (p *player) rest(m *machine, left []float64) bool {
	block := min(mostAtOnce, int(slices.Min(m.delay)*p.rate*0.95)-taps)
	reach := int(slices.Max(m.delay)*p.rate*1.05) + 2*taps
	if block < 1 || reach > longestReach {
		return false
	}
	t := p.thread(m, reach, block)
	shares, path := m.shares(), newRecordPath(m, p.rate)
	for at := 0; at < len(p.take); at += block {
		n := min(block, len(p.take)-at)
		rest, back := left[at:at+n], t.back[:n]
		copy(rest, p.take[at:at+n])
		clear(back)
		for k := range m.delay {
			out := t.head(m, k, at, n, p.rate)
			gain, fed := m.gain[k], shares[k]*m.loop
			for i, v := range out {
				rest[i] -= gain * v
				back[i] += fed * v
			}
		}
		for i, e := range rest {
			t.memory[reach+at+i] = path.step(p.note[at+i]*e + back[i])
		}
	}
	end := left[len(left)-1]
	return !math.IsNaN(end) && math.Abs(end) < 1e6
}

const (
	mostAtOnce   = 4096    // samples between two passes of all heads
	longestReach = 1 << 24 // samples of memory before the take
)

// tape is the memory of a machine while it is played, and room to work in.
type tape struct {
	memory            []float64 // reach samples of silence, then what was recorded
	reach             int
	out, back, places []float64
	kernels           []kernel // of heads that stand still
	table             []kernel // for heads that move; made when first needed
}

// thread makes the tape ready for m.
func (p *player) thread(m *machine, reach, block int) *tape {
	t := &p.tape
	if len(t.memory) < reach+len(p.take) {
		t.memory = make([]float64, reach+len(p.take))
	}
	if len(t.out) < block {
		t.out, t.back, t.places = make([]float64, block), make([]float64, block), make([]float64, block)
	}
	clear(t.memory[:reach]) // what follows is written before it is read
	t.reach = reach
	t.kernels = t.kernels[:0]
	for _, d := range m.delay {
		t.kernels = append(t.kernels, kernelFor(d*p.rate))
	}
	return t
}

// head is what head k reads in n samples from at on.
func (t *tape) head(m *machine, k, at, n int, rate float64) []float64 {
	out := t.out[:n]
	if !m.moves() {
		read(out, t.memory, t.reach+at, m.delay[k]*rate, &t.kernels[k])
		return out
	}
	if t.table == nil {
		t.table = kernelTable()
	}
	m.place(t.places[:n], at, m.delay[k], rate)
	readMoving(out, t.memory, t.reach+at, t.places[:n], t.table)
	return out
}
