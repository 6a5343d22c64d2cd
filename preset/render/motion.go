package render

import (
	"math"
	"math/rand/v2"

	"echowright/preset"
)

// A carrier is tape, drum or disc with its wow and flutter.
//
// At the time t it runs at the speed 1 + ε(t), ε being a sum of sines, and has come
// as far as W(t) = t + P(t), P being the integral of ε. A head sits where the carrier
// comes d later at nominal speed, so what it reads at t was written at t − τ, with
//
//	W(t) − W(t−τ) = d,  that is  τ = d − P(t) + P(t−τ).
//
// Newton's method solves that from τ = d in two or three steps. Differentiated,
//
//	dτ/dt = 1 − (1+ε(t)) / (1+ε(t−τ)),
//
// so the delay is solved for every knotSpacing samples only, and cubics that have
// its value and its slope at both ends fill in what lies between.
type carrier struct {
	sines []sine
	rate  float64
}

// A sine is one periodic deviation of speed: depth·sin(turn·t + phase), t in samples.
type sine struct{ depth, turn, phase float64 }

const (
	knotSpacing = 16 // samples; 3 kHz at 48 kHz: far above any flutter
	// mostSway is how far wow and flutter together may take the speed: beyond, there
	// are moments in which a carrier nearly stands still.
	mostSway = 0.5
)

// newCarrier draws where in their turn wow and flutter begin.
func newCarrier(m *preset.Motion, rate float64, random *rand.Rand) carrier {
	c := carrier{rate: rate}
	if m == nil {
		return c
	}
	for _, w := range []struct {
		depth preset.Percent
		rate  preset.Hertz
	}{{m.WowPercent, m.WowHz}, {m.FlutterPercent, m.FlutterHz}} {
		phase := 2 * math.Pi * random.Float64() // drawn in any case, so that one does not decide the other's
		if w.depth > 0 && w.rate > 0 {
			c.sines = append(c.sines, sine{depth: float64(w.depth) / 100, turn: 2 * math.Pi * float64(w.rate) / rate, phase: phase})
		}
	}
	return c
}

// sway is the greatest deviation of the speed: a delay is never longer or shorter
// by a greater share than sway/(1−sway).
func (c carrier) sway() float64 {
	sum := 0.0
	for _, s := range c.sines {
		sum += s.depth
	}
	return sum / (1 - sum)
}

// at is the deviation of speed at t, and its integral.
func (c carrier) at(t float64) (speed, way float64) {
	for _, s := range c.sines {
		sin, cos := math.Sincos(s.turn*t + s.phase)
		speed += s.depth * sin
		way -= s.depth / s.turn * cos
	}
	return speed, way
}

// A knot is the delay of a head and its slope at one sample.
type knot struct{ delay, slope float64 }

// knot solves for the delay, in samples, at time t of a head that is d away.
func (c carrier) knot(t, d float64) knot {
	speed, way := c.at(t)
	delay := d
	then, before := c.at(t - delay)
	for range 8 { // two or three, but for the wildest
		step := (delay - d + way - before) / (1 + then)
		delay -= step
		then, before = c.at(t - delay)
		if math.Abs(step) < 1e-9 {
			break
		}
	}
	return knot{delay, 1 - (1+speed)/(1+then)}
}

// place works out the delays of all voices that move, for the next n samples.
func (c carrier) place(p *plan, at, n int) {
	if len(c.sines) == 0 {
		return
	}
	p.eachVoice(func(v *voice, lag int) {
		if v.late != nil {
			c.follow(v.late[:n], at-lag, v.delay)
		}
	})
}

// follow fills late with the delays of a head that is d away, from time at on.
// Knots stand at the same times however the sound is cut into blocks.
func (c carrier) follow(late []float64, at int, d float64) {
	begin := at - ((at%knotSpacing)+knotSpacing)%knotSpacing
	from := c.knot(float64(begin), d)
	for begin < at+len(late) {
		to := c.knot(float64(begin+knotSpacing), d)
		for i := max(begin, at); i < min(begin+knotSpacing, at+len(late)); i++ {
			late[i-at] = between(from, to, float64(i-begin)/knotSpacing)
		}
		begin, from = begin+knotSpacing, to
	}
}

// between is Hermite's cubic from one knot to the next, u from 0 to 1.
func between(a, b knot, u float64) float64 {
	rise := b.delay - a.delay
	p, q := a.slope*knotSpacing-rise, rise-b.slope*knotSpacing
	return a.delay + u*rise + u*(1-u)*(p*(1-u)+q*u)
}
