package measure

import (
	"math"
	"math/cmplx"
)

// shape is the tone of the record path as a formula of frequency, for fits that
// are made on spectra. Of s = jω, every figure at 0 leaves its part out:
//
//	high cut    1/(1 + high·s + second·s²)
//	low cut     s/(s + low)
//	bell        (1 + wide·(1 + lift)·s/middle + (s/middle)²) / (1 + wide·s/middle + (s/middle)²)
//	losses      exp(−linear·ω − square·ω²), without phase: the carrier's distance
//	            from the head, and the head's gap
//
// With step above 0 (s) s is (1 − e^(−jω·step))/step: the tone of a machine that
// is itself computed, one sample each step.
type shape struct {
	high, second       float64 // s, s²
	low                float64 // rad/s
	lift, middle, wide float64 // ratio, rad/s, 1/quality
	linear, square     float64 // s, s²
	step               float64 // s
}

// turned is a figure of a still unit that the fit may turn.
type turned int

const (
	turnDelay turned = iota
	turnGain
	turnFed
	turnLeak
	turnLeakAt
	turnHigh
	turnSecond
	turnLow
	turnLift
	turnMiddle
	turnWide
	turnLinear
	turnSquare
	turnDrift
	turnSine
	turnCosine
	turnRate
)

// at is the tone at the angular frequency ω.
func (t *shape) at(omega float64) complex128 {
	s := complex(0, omega)
	if t.step > 0 {
		sin, cos := math.Sincos(omega * t.step)
		s = complex((1-cos)/t.step, sin/t.step)
	}
	v, _ := t.slopes(omega, s, nil, nil)
	return v
}

// amplitude is what the tone leaves of frequency f, Hz.
func (t *shape) amplitude(f float64) float64 { return cmplx.Abs(t.at(2 * math.Pi * f)) }

// slopes is the tone at ω, where s is as the formula says, and into d the slopes of
// its logarithm by the figures that parts names (others are passed over).
func (t *shape) slopes(omega float64, s complex128, parts []turned, d []complex128) (complex128, []complex128) {
	cut := inverse(1 + complex(t.high, 0)*s + complex(t.second, 0)*s*s)
	v := cut
	var behind complex128 // 1/(s + low)
	if t.low > 0 {
		behind = inverse(s + complex(t.low, 0))
		v *= s * behind
	} else if omega > 0 {
		behind = inverse(s)
	}
	var top, bottom, w complex128
	if t.middle > 0 {
		w = s * complex(1/t.middle, 0)
		both := 1 + w*w
		top, bottom = inverse(both+complex(t.wide*(1+t.lift), 0)*w), inverse(both+complex(t.wide, 0)*w)
		v *= bottom * inverse(top)
	}
	if t.linear != 0 || t.square != 0 {
		v *= complex(math.Exp(-omega*(t.linear+omega*t.square)), 0)
	}
	for _, p := range parts {
		switch p {
		case turnHigh:
			d = append(d, -s*cut)
		case turnSecond:
			d = append(d, -s*s*cut)
		case turnLow:
			d = append(d, -behind)
		case turnLift:
			d = append(d, complex(t.wide, 0)*w*top)
		case turnMiddle:
			up, down := complex(t.wide*(1+t.lift), 0)+2*w, complex(t.wide, 0)+2*w
			d = append(d, complex(-1/t.middle, 0)*w*(up*top-down*bottom))
		case turnWide:
			d = append(d, w*(complex(1+t.lift, 0)*top-bottom))
		case turnLinear:
			d = append(d, complex(-omega, 0))
		case turnSquare:
			d = append(d, complex(-omega*omega, 0))
		}
	}
	return v, d
}

// inverse is 1/z, fast; 0 for 0.
func inverse(z complex128) complex128 {
	re, im := real(z), imag(z)
	p := re*re + im*im
	if p == 0 {
		return 0
	}
	return complex(re/p, -im/p)
}

// corners are the half-power frequencies of the tone's low and high end, Hz, the
// bell left out; 0 where there is none below half the rate.
func (t *shape) corners(rate float64) (low, high float64) {
	if t.low > 0 {
		low = t.low / (2 * math.Pi)
	}
	dull := *t
	dull.low, dull.middle = 0, 0
	if half := rate / 2; dull.amplitude(half) < math.Sqrt2/2 {
		high = crossing(10, half, func(f float64) bool { return dull.amplitude(f) < math.Sqrt2/2 })
	}
	return low, high
}
