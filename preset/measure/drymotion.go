package measure

import (
	"math"

	"echowright/preset"
)

// sway is a periodic deviation of the carrier's speed: sine·sin(2π·rate·t) +
// cosine·cos(…), as a share of the speed, t in s from the start of the take.
type sway struct{ sine, cosine, rate float64 }

func (w sway) peak() float64 { return math.Hypot(w.sine, w.cosine) }

// swaying is a unit whose carrier wavers, slowly (wow) and fast (flutter).
type swaying struct {
	still
	sways [2]sway
	reach float64 // s that a delay may move in a fit
}

func (m swaying) clone() swaying {
	m.still = m.still.clone()
	return m
}

func (m *swaying) words() *preset.Motion {
	w, f := m.sways[0], m.sways[1]
	out := &preset.Motion{WowPercent: preset.Percent(100 * w.peak()), WowHz: preset.Hertz(w.rate)}
	if f.peak() > 0 {
		out.FlutterPercent, out.FlutterHz = preset.Percent(100*f.peak()), preset.Hertz(f.rate)
	}
	return out
}

// stage is a stretch of both channels on which a wavering unit is played, at a
// lower rate. Errors count from sample count on.
type stage struct {
	rate     float64
	high     float64 // Hz: end of its band
	noise    float64 // mean square in that band; 0: not known
	start    float64 // s of its first sample
	dry, wet []float64
	count    int
	table    []kernel
}

const (
	stageBefore = 2.5 // s played before those that are fitted
	dryMargin   = 64  // samples
)

// newStage is the part of the take that sounds most, of so many seconds at the
// most, thinned.
func newStage(c channels, rate, high, longest float64) *stage {
	step := thinning(c.rate, rate)
	g := &stage{rate: c.rate / float64(step), table: kernelTable()}
	g.high = math.Min(high, 0.37*g.rate)
	both := slowed(c.rate, band{0, g.high}, step, c.dry, c.wet)
	g.dry, g.wet = both[0], both[1]
	g.noise = knownNoise(g.wet, g.rate)
	size, before := int(longest*g.rate), int(stageBefore*g.rate)
	from := loudest(g.wet, size, int(g.rate/4))
	to := min(len(g.wet), from+size)
	g.count = min(from, before)
	g.start = float64(from-g.count) / g.rate
	g.dry, g.wet = g.dry[from-g.count:to], g.wet[from-g.count:to]
	return g
}

// loudest is where the run of so many samples begins that has most energy.
func loudest(x []float64, size, step int) int {
	best, most := 0, -1.0
	for at := 0; at == 0 || at+size <= len(x); at += step {
		if e := meanSquare(x[at:min(len(x), at+size)]); e > most {
			best, most = at, e
		}
	}
	return best
}

func (g *stage) takeLeak(left []float64, leak, late float64) {
	margin := int(leakReach*g.rate) + dryMargin
	memory := make([]float64, len(g.dry)+2*margin)
	copy(memory[margin:], g.dry)
	out, places := make([]float64, len(left)), make([]float64, len(left))
	for i := range places {
		places[i] = late
	}
	readMoving(out, memory, margin, places, g.table)
	for i, v := range out {
		left[i] -= leak * v
	}
}

// head reads the memory by a head. The carrier has to travel the same way at any
// speed, so to the first order a head is late by −∫ deviation from t−delay to t.
func (g *stage) head(out, memory []float64, index, at int, delay float64, m *swaying, places []float64) {
	for i := range places {
		places[i] = delay * g.rate
	}
	for _, w := range m.sways {
		if w.rate > 0 {
			w.shift(places, g.start+float64(at)/g.rate, delay, g.rate)
		}
	}
	readMoving(out, memory, index, places, g.table)
}

// shift adds to the delays of successive samples, the first at t, what the sway
// does to a head: P(t−delay) − P(t), P = (cosine·sin ωt − sine·cos ωt)/ω.
func (w sway) shift(delays []float64, t, delay, rate float64) {
	omega := 2 * math.Pi * w.rate
	sinD, cosD := math.Sincos(omega * delay)
	ofSin := (w.cosine*cosD - w.sine*sinD - w.cosine) / omega * rate
	ofCos := (-w.sine*cosD - w.cosine*sinD + w.sine) / omega * rate
	turnSin, turnCos := math.Sincos(omega / rate)
	s, c := math.Sincos(omega * t)
	for i := range delays {
		delays[i] += ofSin*s + ofCos*c
		s, c = s*turnCos+c*turnSin, c*turnCos-s*turnSin
	}
}

// cuts are a tone's one-pole cuts, played sample by sample.
type cuts struct {
	in, before, keep float64 // high cut: weights of the input, the last one and the last output
	l0, l1           float64 // low cut: gain and pole
	x, y, lx, ly     float64
}

// played is the tone at a rate. Weights 1 − zero and zero of two samples in a row,
// then a pole: chosen so that delay and spread of the high cut's response (its
// first two moments: high and high² + high·step) are the true ones. With step 0
// that is the bilinear transform, which the low cut is made by. Other parts of the
// tone are left out.
func (t *shape) played(rate float64) cuts {
	c := 2 * rate
	f := cuts{in: 1, l0: c / (c + t.low), l1: (c - t.low) / (c + t.low)}
	if t.high <= 0 {
		return f
	}
	zero := (1 - t.step*rate) / 2
	late := t.high*rate - zero
	f.keep = late / (1 + late)
	f.in, f.before = (1-f.keep)*(1-zero), (1-f.keep)*zero
	return f
}

func (f *cuts) step(x float64) float64 {
	v := f.l0*(x-f.lx) + f.l1*f.ly
	f.lx, f.ly = x, v
	f.y = f.in*v + f.before*f.x + f.keep*f.y
	f.x = v
	return f.y
}
