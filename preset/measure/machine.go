package measure

import (
	"math"
	"slices"
)

// machine is the unit as the fit plays it. The signal and the head that is fed
// back go through the drive and the tone of the record path into the memory;
// heads read the memory, moved by wow and flutter. Nothing depends on a sample
// rate here.
type machine struct {
	delay []float64 // s, in order of the heads
	gain  []float64 // amplitude ratio with sign, before the tone
	feeds []int     // indices of the heads that feed the loop
	// loop is the gain of one turn by the loudest feeding head, before the tone;
	// negative where a turn inverts what the head itself does not.
	loop float64
	tone tone
	bend float64 // k² of preset.Drive; 0: no drive
	bias float64
	wow  [2]motion // slow and fast
}

// motion is a periodic deviation of speed: sine·sin(2π·rate·t) + cosine·cos(…),
// as a share of the speed, t in s from the start of the data. Rate 0: none.
type motion struct{ sine, cosine, rate float64 }

func (w motion) still() bool { return w.sine == 0 && w.cosine == 0 }

// peak is the greatest deviation of speed.
func (w motion) peak() float64 { return math.Hypot(w.sine, w.cosine) }

func (m machine) clone() machine {
	m.delay, m.gain = slices.Clone(m.delay), slices.Clone(m.gain)
	return m
}

// shares are the parts in which the heads feed the loop: in proportion to their
// levels, the loudest ±1.
func (m machine) shares() []float64 {
	s := make([]float64, len(m.gain))
	top := 0.0
	for _, k := range m.feeds {
		top = math.Max(top, math.Abs(m.gain[k]))
	}
	if top == 0 {
		return s
	}
	for _, k := range m.feeds {
		s[k] = m.gain[k] / top
	}
	return s
}

// player plays machines along a sound, sample by sample.
type player struct {
	sound
	table []kernel // for moving delays; made when first needed
	// note says for every sample how much of what is left of the take counts as
	// note, 1 to 0, and weight how much an error counts there: 1/σ.
	note, weight []float64
}

// lasting sets how long the note lasts, s from its onset.
func (p *player) lasting(t float64) {
	p.note = make([]float64, len(p.take))
	if p.dry != nil {
		return
	}
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
	reach := int(slices.Max(m.delay)*p.rate*1.05) + 2*taps
	block := min(4096, int(slices.Min(m.delay)*p.rate*0.95)-taps)
	if block < 1 || reach > 1<<24 {
		return false
	}
	memory := make([]float64, reach+len(p.take))
	shares := m.shares()
	path := newRecordPath(m, p.rate)
	still := m.wow[0].still() && m.wow[1].still()
	kernels := make([]kernel, len(m.delay))
	for k, d := range m.delay {
		kernels[k] = kernelFor(d * p.rate)
	}
	if !still && p.table == nil {
		p.table = kernelTable()
	}
	out, back, places := make([]float64, block), make([]float64, block), make([]float64, block)
	for at := 0; at < len(p.take); at += block {
		n := min(block, len(p.take)-at)
		rest := left[at : at+n]
		copy(rest, p.take[at:at+n])
		clear(back)
		for k, d := range m.delay {
			if still {
				read(out[:n], memory, reach+at, d*p.rate, &kernels[k])
			} else {
				m.place(places[:n], at, d, p.rate)
				readMoving(out[:n], memory, reach+at, places, p.table)
			}
			gain, fed := m.gain[k], shares[k]*m.loop
			for i, v := range out[:n] {
				rest[i] -= gain * v
				back[i] += fed * v
			}
		}
		for i, e := range rest {
			x := p.note[at+i] * e
			if p.dry != nil {
				x = p.dry[at+i]
			}
			memory[reach+at+i] = path.step(x + back[i])
		}
	}
	end := left[len(left)-1]
	return !math.IsNaN(end) && math.Abs(end) < 1e6
}

// place fills in the delay of a head in samples, one a sample from index at on.
func (m *machine) place(delays []float64, at int, delay, rate float64) {
	for i := range delays {
		delays[i] = delay * rate
	}
	for _, w := range m.wow {
		w.displace(delays, at, delay, rate)
	}
}

// displace adds to delays, one a sample from index at on, what the motion does to
// a head: the carrier has to travel the same way, so to the first order
// δ(t) = −∫ ε from t−delay to t.
func (w motion) displace(delays []float64, at int, delay, rate float64) {
	if w.still() {
		return
	}
	omega := 2 * math.Pi * w.rate
	// With P(t) = (−sine·cos ωt + cosine·sin ωt)/ω, δ(t) = P(t−delay) − P(t).
	sinD, cosD := math.Sincos(omega * delay)
	ofSin := (w.cosine*cosD - w.sine*sinD - w.cosine) / omega * rate
	ofCos := (-w.sine*cosD - w.cosine*sinD + w.sine) / omega * rate
	turnSin, turnCos := math.Sincos(omega / rate)
	s, c := math.Sincos(omega * float64(at) / rate)
	for i := range delays {
		delays[i] += ofSin*s + ofCos*c
		s, c = s*turnCos+c*turnSin, c*turnCos-s*turnSin
	}
}

// recordPath is drive and tone on their way into the memory.
type recordPath struct {
	k, bias, offset, scale float64 // of the drive
	filters
}

func newRecordPath(m *machine, rate float64) recordPath {
	r := recordPath{filters: m.tone.at(rate)}
	if m.bend > 1e-12 {
		t := math.Tanh(m.bias)
		r.k, r.bias, r.offset = math.Sqrt(m.bend), m.bias, t
		r.scale = 1 / (r.k * (1 - t*t))
	}
	return r
}

func (r *recordPath) step(x float64) float64 {
	if r.k > 0 {
		x = (math.Tanh(r.k*x+r.bias) - r.offset) * r.scale
	}
	return r.filters.step(x)
}
