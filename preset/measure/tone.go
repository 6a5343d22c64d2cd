package measure

import "math"

// tone is what the record path does to the sound: a one-pole low cut and a high
// cut of first or second order, and where a take asks for it a bell. Every figure
// may go to 0, where its part is not there, without a jump.
//
//	high cut: 1/(1 + highCut·s + second·s²)
//	low cut:  s/(s + 2π·lowCut)
//
// At toneRate s is the backward difference, as in the one-pole filters that
// programs have. At lower rates it bends towards the bilinear transform, so that
// the same figures mean the same delay and, nearly, the same loss: a backward
// difference at 12 kHz would make every head 30 µs late.
type tone struct {
	highCut float64 // s
	second  float64 // s²
	lowCut  float64 // Hz
	bell    bell
}

// bell lifts the neighbourhood of middle (Hz) by gain (dB); quality says how
// narrow it is.
type bell struct{ gain, middle, quality float64 }

const toneRate = 48_000.0 // Hz

// filters is a tone at a sample rate.
type filters struct {
	keep, fed0, low, lowIn float64    // low cut: weights of the input's change and of the last output, then both
	in, fed                [3]float64 // high cut: weights of the inputs and of the last outputs (fed[0] is not used)
	x1, x2, high1, high2   float64    // last inputs and outputs
	flat                   bool       // the high cut looks at no earlier input
	b, a                   [3]float64 // bell, a[0] = 1; b[0] = 0: none
	bx1, bx2, by1, by2     float64
}

// at is the tone at a rate: s = rate·(1 − z⁻¹)/(now + then·z⁻¹).
func (t tone) at(rate float64) filters {
	now := 0.5 + 0.5*math.Min(1, rate/toneRate)
	then := 1 - now
	low := 2 * math.Pi * t.lowCut / rate
	f := filters{keep: 1 / (1 + low*now), flat: then == 0}
	f.fed0 = (1 - low*then) * f.keep
	one, two := t.highCut*rate, t.second*rate*rate
	f.in = [3]float64{now * now, 2 * now * then, then * then}
	den := [3]float64{f.in[0] + one*now + two, f.in[1] + one*(then-now) - 2*two, f.in[2] - one*then + two}
	for i := range den {
		f.in[i] /= den[0]
		f.fed[i] = -den[i] / den[0]
	}
	if t.bell.gain != 0 {
		f.b, f.a = t.bell.at(rate)
	}
	return f
}

// at gives the coefficients by the bilinear transform.
func (b bell) at(rate float64) (num, den [3]float64) {
	k, v := math.Tan(math.Pi*math.Min(b.middle/rate, 0.49)), math.Pow(10, b.gain/20)
	n := 1 / (1 + k/b.quality + k*k)
	num = [3]float64{(1 + v*k/b.quality + k*k) * n, 2 * (k*k - 1) * n, (1 - v*k/b.quality + k*k) * n}
	den = [3]float64{1, 2 * (k*k - 1) * n, (1 - k/b.quality + k*k) * n}
	return num, den
}

func (f *filters) step(x float64) float64 {
	f.low = f.fed0*f.low + f.keep*(x-f.lowIn)
	f.lowIn = x
	y := f.in[0]*f.low + f.fed[1]*f.high1 + f.fed[2]*f.high2
	if !f.flat {
		y += f.in[1]*f.x1 + f.in[2]*f.x2
		f.x2, f.x1 = f.x1, f.low
	}
	f.high2, f.high1 = f.high1, y
	if f.b[0] == 0 {
		return y
	}
	z := f.b[0]*y + f.b[1]*f.bx1 + f.b[2]*f.bx2 - f.a[1]*f.by1 - f.a[2]*f.by2
	f.bx2, f.bx1, f.by2, f.by1 = f.bx1, y, f.by1, z
	return z
}

// magnitude is what the tone, as played at rate, leaves of frequency f.
func (t tone) magnitude(f, rate float64) float64 {
	p := t.at(rate)
	low := ratio([3]float64{p.keep, -p.keep}, [3]float64{1, -p.fed0}, f, rate)
	high := ratio(p.in, [3]float64{1, -p.fed[1], -p.fed[2]}, f, rate)
	if p.b[0] == 0 {
		return low * high
	}
	return low * high * ratio(p.b, p.a, f, rate)
}

// ratio is |num/den| at frequency f, both in powers of the delay of one sample.
func ratio(num, den [3]float64, f, rate float64) float64 {
	w := 2 * math.Pi * f / rate
	size := func(c [3]float64) float64 {
		return math.Hypot(c[0]+c[1]*math.Cos(w)+c[2]*math.Cos(2*w), c[1]*math.Sin(w)+c[2]*math.Sin(2*w))
	}
	return size(num) / size(den)
}

// corners are the half-power frequencies of the low and the high cut as played at
// rate, Hz; 0 where there is none below half the rate. The bell is left out.
func (t tone) corners(rate float64) (low, high float64) {
	if t.lowCut > 0 {
		low = crossing(1, rate/4, func(f float64) bool { return tone{lowCut: t.lowCut}.magnitude(f, rate) > math.Sqrt2/2 })
	}
	cut := tone{highCut: t.highCut, second: t.second}
	if half := rate / 2; cut.magnitude(half, rate) < math.Sqrt2/2 {
		high = crossing(10, half, func(f float64) bool { return cut.magnitude(f, rate) < math.Sqrt2/2 })
	}
	return low, high
}

// crossing is where from low to high a condition begins to hold.
func crossing(low, high float64, holds func(float64) bool) float64 {
	for range 60 {
		if middle := (low + high) / 2; holds(middle) {
			high = middle
		} else {
			low = middle
		}
	}
	return (low + high) / 2
}
