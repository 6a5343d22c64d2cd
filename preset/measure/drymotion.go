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
		places[i] = delay*g.rate - weightsBefore
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
