package measure

import (
	"math"
	"slices"
)

// still is the unit as it is while its carrier does not waver, and what else is
// between the two channels. Of frequency f it makes
//
//	H = leak·e^(−jω·leakAt) + A·T/(1 − T·G),  A = Σ gain·e^(−jω·delay),  G = Σ fed·e^(−jω·delay)
//
// with the tone T once in every pass through the memory.
type still struct {
	delay  []float64 // s, in order
	gain   []float64 // amplitude ratio with sign, before the tone
	fed    []float64 // the same of what a head feeds back
	feeds  []bool    // which heads feed
	leaks  bool      // the direct sound is heard in the wet channel too
	leak   float64
	leakAt float64 // s
	tone   shape
	parts  []turned // figures of the tone that are free
	drift  float64  // by how much the dry channel's clock runs faster
	drifts bool
}

func (u still) clone() still {
	u.delay, u.gain, u.fed = slices.Clone(u.delay), slices.Clone(u.gain), slices.Clone(u.fed)
	u.feeds, u.parts = slices.Clone(u.feeds), slices.Clone(u.parts)
	return u
}

// dial is a figure that the fit turns.
type dial struct {
	what      turned
	head      int
	value     *float64
	low, high float64
}

// awake is u with a high cut that does something: at a cut of 0 the loss has no
// slope, and a fit would not leave it.
func (u still) awake() still {
	u = u.clone()
	if slices.Contains(u.parts, turnHigh) {
		u.tone.high = math.Max(u.tone.high, wakeHigh)
	}
	return u
}

const wakeHigh = 1.0 / (2 * math.Pi * 7000)

// How far the fit may go.
const (
	mostGain  = 30.0
	mostFed   = 1.3
	leakReach = 0.003 // s around 0 in which sound counts as direct
)

// dials are the free figures of u. They point into u.
func (u *still) dials() []dial {
	var all []dial
	for k := range u.delay {
		d := u.delay[k]
		all = append(all, dial{turnDelay, k, &u.delay[k], math.Max(leakReach, d-delayReach), d + delayReach},
			dial{turnGain, k, &u.gain[k], -mostGain, mostGain})
		if u.feeds[k] {
			all = append(all, dial{turnFed, k, &u.fed[k], -mostFed, mostFed})
		}
	}
	if u.leaks {
		all = append(all, dial{turnLeak, 0, &u.leak, -mostGain, mostGain}, dial{turnLeakAt, 0, &u.leakAt, -leakReach, leakReach})
	}
	for _, p := range u.parts {
		all = append(all, u.tone.dial(p))
	}
	if u.drifts {
		all = append(all, dial{turnDrift, 0, &u.drift, -1e-3, 1e-3})
	}
	return all
}

func (t *shape) dial(p turned) dial {
	d := dial{what: p}
	switch p {
	case turnHigh:
		d.value, d.high = &t.high, 2e-3
	case turnSecond:
		d.value, d.high = &t.second, 1e-6
	case turnLow:
		d.value, d.high = &t.low, 2*math.Pi*1000
	case turnLift:
		d.value, d.low, d.high = &t.lift, -0.9, 9
	case turnMiddle:
		d.value, d.low, d.high = &t.middle, 2*math.Pi*40, 2*math.Pi*9000
	case turnWide:
		d.value, d.low, d.high = &t.wide, 0.1, 4
	case turnLinear:
		d.value, d.high = &t.linear, 1e-3
	case turnSquare:
		d.value, d.high = &t.square, 1e-6
	}
	return d
}

// scratch is room for the columns of one block of bins.
type scratch struct {
	rows  [][]float64 // one a dial: real and imaginary parts in turn
	rest  []float64
	phase [][]complex128 // of each head, and of the leak
	step  []complex128   // of a computed tone
	slope []complex128
	from  []complex128 // what the unit makes of the dry channel
}

const blockBins = 256

func newScratch(dials, heads int) *scratch {
	s := &scratch{rest: make([]float64, 2*blockBins), step: make([]complex128, blockBins), from: make([]complex128, blockBins)}
	for range dials {
		s.rows = append(s.rows, make([]float64, 2*blockBins))
	}
	for range heads + 1 {
		s.phase = append(s.phase, make([]complex128, blockBins))
	}
	return s
}

// turning fills out with e^(−jωτ) for the bins from first on, ω = bin·width.
func turning(out []complex128, first int, width, tau float64) {
	sin, cos := math.Sincos(-float64(first) * width * tau)
	z := complex(cos, sin)
	sin, cos = math.Sincos(-width * tau)
	step := complex(cos, sin)
	for i := range out {
		out[i] = z
		z *= step
	}
}

// over fills sc with what u leaves of the block's bins, in standard deviations of
// the noise, and how that changes with each dial.
//
// The dry channel has noise of its own, which the unit passes on: its share
// |H|²·dryNoise belongs into the noise, else the levels come out too low.
func (u *still) over(s *spectra, b stretch, dials []dial, sc *scratch) {
	n := b.to - b.from
	for k, d := range u.delay {
		turning(sc.phase[k][:n], b.from, s.width, d)
	}
	if u.leaks {
		turning(sc.phase[len(u.delay)][:n], b.from, s.width, u.leakAt)
	}
	turning(sc.step[:n], b.from, s.width, u.tone.step)
	for i := range n {
		bin := b.from + i
		omega := float64(bin) * s.width
		var tone complex128
		z := complex(0, omega)
		if u.tone.step > 0 {
			z = (1 - sc.step[i]) * complex(1/u.tone.step, 0)
		}
		tone, sc.slope = u.tone.slopes(omega, z, u.parts, sc.slope[:0])
		var heard, back complex128
		for k := range u.delay {
			e := sc.phase[k][i]
			heard += complex(u.gain[k], 0) * e
			if u.feeds[k] {
				back += complex(u.fed[k], 0) * e
			}
		}
		turns := inverse(1 - tone*back)
		pass := tone * turns
		h := pass * heard
		if u.leaks {
			h += complex(u.leak, 0) * sc.phase[len(u.delay)][i]
		}
		x := s.x[bin]
		passed := (real(h)*real(h) + imag(h)*imag(h)) * s.dryNoise
		scale := 1 / math.Sqrt(s.noise[bin]+passed)
		made := h * x
		if u.drifts {
			made += complex(u.drift, 0) * s.late[bin]
		}
		sc.from[i] = made
		e := (s.y[bin] - made) * complex(scale, 0)
		sc.rest[2*i], sc.rest[2*i+1] = real(e), imag(e)
		if dials == nil {
			continue
		}
		u.turn(s, dials, sc, i, &point{bin, scale, pass, turns, heard, h, e})
	}
}

// point is what the formula makes of one bin: the tone's pass with all turns of the
// loop and without, what the heads hear, H, and what is left of y, scaled.
type point struct {
	bin                      int
	scale                    float64
	pass, turns, heard, h, e complex128
}

// turn fills in how bin i of a block changes with each dial.
func (u *still) turn(s *spectra, dials []dial, sc *scratch, i int, at *point) {
	part := 0
	x, omega := s.x[at.bin], float64(at.bin)*s.width
	for p, d := range dials {
		var dh complex128
		switch d.what {
		case turnDelay:
			dh = at.pass * complex(u.gain[d.head], 0)
			if u.feeds[d.head] {
				dh += at.heard * at.pass * at.pass * complex(u.fed[d.head], 0)
			}
			dh *= complex(0, -omega) * sc.phase[d.head][i]
		case turnGain:
			dh = at.pass * sc.phase[d.head][i]
		case turnFed:
			dh = at.heard * at.pass * at.pass * sc.phase[d.head][i]
		case turnLeak:
			dh = sc.phase[len(u.delay)][i]
		case turnLeakAt:
			dh = complex(0, -omega*u.leak) * sc.phase[len(u.delay)][i]
		case turnDrift: // is no part of H
			v := s.late[at.bin] * complex(-at.scale, 0)
			sc.rows[p][2*i], sc.rows[p][2*i+1] = real(v), imag(v)
			continue
		default:
			dh = at.heard * at.pass * at.turns * sc.slope[part]
			part++
		}
		v := dh * x * complex(-at.scale, 0)
		if s.dryNoise > 0 { // the noise that is passed on grows with H as well
			v -= at.e * complex((real(at.h)*real(dh)+imag(at.h)*imag(dh))*s.dryNoise*at.scale*at.scale, 0)
		}
		sc.rows[p][2*i], sc.rows[p][2*i+1] = real(v), imag(v)
	}
}
