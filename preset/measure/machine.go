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
