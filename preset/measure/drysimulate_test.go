package measure

import (
	"math"
	"math/cmplx"
	"math/rand"

	"gonum.org/v1/gonum/dsp/fourier"

	"echowright/preset"
)

// Machines of their own for the tests of two channels: one multiplies spectra, so
// that its delays are exact and its tone is any formula; one plays sample by
// sample and lets the carrier waver. They share no code with the fit.

// simulated is a unit for the simulators; gains and loop are before the tone.
type simulated struct {
	delays []float64 // ms
	levels []float64 // dB to the direct sound; loudest first or not
	turned []int     // heads whose polarity is inverted
	feeds  []int
	loop   []float64 // gain of one turn by each of feeds, with sign
	tone   func(f float64) complex128
	leak   float64 // of the direct sound in the wet channel
}

func (u simulated) gain(k int) float64 {
	g := math.Pow(10, u.levels[k]/20)
	for _, t := range u.turned {
		if t == k {
			return -g
		}
	}
	return g
}

// wet is what the unit makes of x, with 6 s at least for its echoes to die away.
func (u simulated) wet(x []float64, rate float64) []float64 {
	n := 1
	for n < len(x)+int(6*rate) {
		n *= 2
	}
	padded := make([]float64, n)
	copy(padded, x)
	fft := fourier.NewFFT(n)
	s := fft.Coefficients(nil, padded)
	for i := range s {
		f := float64(i) * rate / float64(n)
		var heard, back complex128
		for k, d := range u.delays {
			heard += cmplx.Rect(u.gain(k), -2*math.Pi*f*d/1000)
		}
		for j, k := range u.feeds {
			back += cmplx.Rect(1, -2*math.Pi*f*u.delays[k]/1000) * complex(u.loop[j], 0)
		}
		t := u.tone(f)
		s[i] *= t*heard/(1-t*back) + complex(u.leak, 0)
	}
	y := fft.Sequence(nil, s)[:len(x)]
	for i := range y {
		y[i] /= float64(n)
	}
	return y
}

// cutsAt is a one-pole low and high cut as analogue circuits make it; 0: none.
func cutsAt(low, high float64) func(float64) complex128 {
	return func(f float64) complex128 {
		t := complex(1, 0)
		if low > 0 && f > 0 {
			t /= complex(1, -low/f)
		} else if low > 0 {
			return 0
		}
		if high > 0 {
			t /= complex(1, f/high)
		}
		return t
	}
}

func flat(float64) complex128 { return 1 }

// with is two tones one after the other.
func with(a, b func(float64) complex128) func(float64) complex128 {
	return func(f float64) complex128 { return a(f) * b(f) }
}

// secondOrder is a high cut of second order.
func secondOrder(corner, quality float64) func(float64) complex128 {
	return func(f float64) complex128 {
		s := complex(0, f/corner)
		return 1 / (1 + s/complex(quality, 0) + s*s)
	}
}

// resonance lifts the neighbourhood of middle by gain dB.
func resonance(middle, gain, quality float64) func(float64) complex128 {
	return func(f float64) complex128 {
		s := complex(0, f/middle)
		return (1 + s*complex(math.Pow(10, gain/20)/quality, 0) + s*s) / (1 + s/complex(quality, 0) + s*s)
	}
}

// carrierLoss is that of a head's gap and of its distance from the carrier, both
// in µm, at a speed in cm/s: sin(x)/x with x = π·gap/wavelength, and
// exp(−2π·distance/wavelength) (Wallace, Bell Syst. Tech. J. 30, 1951).
func carrierLoss(gap, distance, speed float64) func(float64) complex128 {
	return func(f float64) complex128 {
		waves := f * 1e-4 / speed // per µm
		x := math.Pi * gap * waves
		loss := math.Exp(-2 * math.Pi * distance * waves)
		if x > 0 {
			loss *= math.Sin(x) / x
		}
		return complex(loss, 0)
	}
}

// truth is the profile that a perfect measurement would give.
func (u simulated) truth() preset.Unit {
	var out preset.Unit
	at1k := cmplx.Abs(u.tone(1000))
	top := math.Inf(-1)
	for _, l := range u.levels {
		top = math.Max(top, l)
	}
	for k, d := range u.delays {
		out.Heads = append(out.Heads, preset.Head{
			Head: k + 1, Delay: preset.Millis(d), Level: preset.Decibels(u.levels[k] - top), Inverted: u.gain(k) < 0,
		})
	}
	out.Direct = &preset.Direct{EchoToDirect: preset.Decibels(top + 20*math.Log10(at1k))}
	if len(u.feeds) > 0 {
		strongest := 0.0
		out.Feedback = &preset.Feedback{}
		for j, k := range u.feeds {
			strongest = math.Max(strongest, math.Abs(u.loop[j]))
			out.Feedback.Heads = append(out.Feedback.Heads, k+1)
		}
		out.Feedback.Gain = preset.FromAmplitude(strongest * at1k)
	}
	return out
}

// strum is a note: harmonics that decay, a plectrum's noise, a hand that damps it.
func strum(rng *rand.Rand, rate, pitch, seconds float64) []float64 {
	x := make([]float64, int((seconds+0.1)*rate))
	for n := 1.0; n*pitch < 8000; n++ {
		a, phase := rng.Float64()/n, 2*math.Pi*rng.Float64()
		for i := range x {
			t := float64(i) / rate
			x[i] += a * math.Exp(-t*(2+n*pitch/800)) * math.Sin(2*math.Pi*n*pitch*t+phase)
		}
	}
	low := 0.0
	for i := range x {
		t := float64(i) / rate
		low += 0.3 * (rng.NormFloat64() - low)
		x[i] = 0.25 * (x[i] + 0.5*low*math.Exp(-t/0.005)) * (1 - math.Exp(-t/0.0005))
		if t > seconds {
			x[i] *= math.Exp(-(t - seconds) / 0.015)
		}
	}
	return x
}

// playing is some notes at times chosen by chance, the last a while before the end.
func playing(rng *rand.Rand, rate, seconds float64, notes int) []float64 {
	x := make([]float64, int(seconds*rate))
	room := math.Max(0, seconds-2.5)
	for n := range notes {
		at := int((0.2 + room*float64(n)/float64(notes)) * rate)
		for i, v := range strum(rng, rate, 80+300*rng.Float64(), 0.1+0.3*rng.Float64()) {
			if at+i < len(x) {
				x[at+i] += v
			}
		}
	}
	return x
}

func hissed(rng *rand.Rand, x []float64, level float64) []float64 {
	y := make([]float64, len(x))
	for i, v := range x {
		y[i] = v + math.Pow(10, level/20)*rng.NormFloat64()
	}
	return y
}

// between64 reads x between samples by a sinc of 64 points under Hann's window.
func between64(x []float64, at float64) float64 {
	from := int(math.Floor(at)) - 31
	sum := 0.0
	for j := range 64 {
		if k := from + j; k >= 0 && k < len(x) {
			u := float64(k) - at
			w := math.Cos(math.Pi * u / 66)
			if math.Abs(u) < 1e-9 {
				sum += x[k]
				continue
			}
			sum += x[k] * w * w * math.Sin(math.Pi*u) / (math.Pi * u)
		}
	}
	return sum
}

// wavering plays a unit with a one-pole high cut whose carrier's speed is
// 1 + peak·sin(2π·hz·t), sample by sample.
func (u simulated) wavering(x []float64, rate, highCut, peak, hz float64) []float64 {
	const shift = 64
	memory, y := make([]float64, len(x)), make([]float64, len(x))
	k := 2 * math.Pi * highCut / rate
	keep, state, last := (2-k)/(2+k), 0.0, 0.0
	way := func(t float64) float64 { return t - peak/(2*math.Pi*hz)*math.Cos(2*math.Pi*hz*t) }
	for i := range x {
		t := float64(i) / rate
		in := x[i]
		for h, d := range u.delays {
			late := d / 1000
			for range 3 { // the carrier goes the same way, whatever its speed
				late += d/1000 - (way(t) - way(t-late))
			}
			v := 0.0
			if late*rate > shift {
				v = between64(memory[:i], float64(i)-late*rate)
			}
			y[i] += u.gain(h) * v
			for j, f := range u.feeds {
				if f == h {
					in += u.loop[j] * v
				}
			}
		}
		state = keep*state + (1-keep)/2*(in+last)
		last = in
		memory[i] = state
	}
	return y
}
