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
	loop    float64
	highCut float64 // time constant of the one-pole high cut, s; 0: none
	lowCut  float64 // corner of the one-pole low cut, Hz; 0: none
	drive   float64 // k of preset.Drive as a factor; 0: none
	bias    float64
	wow     [2]motion // slow and fast
}

// motion is a periodic deviation of speed: sine·sin(2π·rate·t) + cosine·cos(…),
// as a share of the speed, t in s from the start of the data. Rate 0: none.
type motion struct{ sine, cosine, rate float64 }

func (w motion) still() bool { return w.sine == 0 && w.cosine == 0 }

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

	belief belief  // what was known before
	trust  float64 // what a standard deviation from it costs, as an amplitude
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
	out, back, places := make([]float64, block), make([]float64, block), make([]float64, block)
	for at := 0; at < len(p.take); at += block {
		n := min(block, len(p.take)-at)
		rest := left[at : at+n]
		copy(rest, p.take[at:at+n])
		clear(back)
		for k, d := range m.delay {
			p.readHead(out[:n], memory, reach+at, at, d, m, places)
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

func (p *player) readHead(out, memory []float64, index, at int, delay float64, m *machine, places []float64) {
	if m.wow[0].still() && m.wow[1].still() {
		read(out, memory, index, delay*p.rate)
		return
	}
	if p.table == nil {
		p.table = kernelTable()
	}
	places = places[:len(out)]
	for i := range places {
		places[i] = delay * p.rate
	}
	for _, w := range m.wow {
		w.displace(places, at, delay, p.rate)
	}
	readMoving(out, memory, index, places, p.table)
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
	drive, bias, offset, scale float64
	keep, low, lowIn           float64 // low cut: pole, last output, last input
	smooth, high               float64 // high cut: weight of the new sample, last output
}

func newRecordPath(m *machine, rate float64) recordPath {
	t := math.Tanh(m.bias)
	r := recordPath{
		drive: m.drive, bias: m.bias, offset: t,
		keep:   1 / (1 + 2*math.Pi*m.lowCut/rate),
		smooth: 1 / (1 + m.highCut*rate),
	}
	if m.drive > 0 {
		r.scale = 1 / (m.drive * (1 - t*t))
	}
	return r
}

func (r *recordPath) step(x float64) float64 {
	if r.drive > 0 {
		x = (math.Tanh(r.drive*x+r.bias) - r.offset) * r.scale
	}
	r.low = r.keep * (r.low + x - r.lowIn)
	r.lowIn = x
	r.high += r.smooth * (r.low - r.high)
	return r.high
}

// magnitude is what the tone of the record path, as played at rate, leaves of f.
func (m machine) magnitude(f, rate float64) float64 {
	omega := 2 * math.Pi * f / rate
	keep, smooth := 1/(1+2*math.Pi*m.lowCut/rate), 1/(1+m.highCut*rate)
	square := func(pole float64) float64 { return 1 + pole*pole - 2*pole*math.Cos(omega) }
	return keep * math.Sqrt(square(1)/square(keep)) * smooth / math.Sqrt(square(1-smooth))
}

// corners are the half-power frequencies of the low and the high cut as played at
// rate, Hz; 0 where there is none.
func (m machine) corners(rate float64) (low, high float64) {
	if m.lowCut > 0 {
		k := 1 / (1 + 2*math.Pi*m.lowCut/rate)
		low = angle((3*k*k-1)/(4*k*k-2*k)) * rate / (2 * math.Pi)
	}
	if m.highCut > 0 {
		a := m.highCut * rate
		if c := 1 - 1/(2*(a+a*a)); c > -1 {
			high = math.Acos(c) * rate / (2 * math.Pi)
		}
	}
	return low, high
}

func angle(c float64) float64 { return math.Acos(math.Max(-1, math.Min(1, c))) }
