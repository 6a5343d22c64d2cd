package measure

import (
	"math"
	"math/rand"

	"echowright/preset"
)

// A machine of its own for the tests: it runs at four times the rate of the
// take, with other interpolation (Lagrange, six points), other filters (bilinear)
// and the carrier's motion solved exactly, and shares no code with the fit.

const over = 4 // how much faster than the take the simulation runs

// plucked is a note: damped harmonics, a little sharp as strings are, and the
// noise of the plectrum.
type plucked struct {
	pitch   float64 // Hz
	bright  float64 // harmonics fall as n^−bright
	ring    float64 // s in which the fundamental decays to 1/e
	damp    float64 // s after which the hand stops the string; 0: it rings on
	scratch float64 // level of the plectrum's noise
	peak    float64 // of the note, re full scale
}

// wave is the note at rate, seconds long, beginning at 0.
func (p plucked) wave(rng *rand.Rand, rate, seconds float64) []float64 {
	x := make([]float64, int(seconds*rate))
	for n := 1; ; n++ {
		f := p.pitch * float64(n) * math.Sqrt(1+2e-4*float64(n*n))
		if f > 9000 {
			break
		}
		a := math.Pow(float64(n), -p.bright) * (0.3 + math.Abs(math.Sin(float64(n)*0.6)))
		decay := p.ring / (1 + f/2500)
		phase := 2 * math.Pi * rng.Float64()
		for i := range x {
			t := float64(i) / rate
			x[i] += a * math.Exp(-t/decay) * math.Sin(2*math.Pi*f*t+phase)
		}
	}
	state := [2]float64{}
	for i := range x {
		t := float64(i) / rate
		white := rng.NormFloat64() * math.Exp(-t/0.006)
		state[0] += (white - state[0]) * 0.25 * 192e3 / rate / 4 * over
		state[1] += (state[0] - state[1]) * 0.2
		x[i] = (x[i] + 10*p.scratch*state[1]) * (1 - math.Exp(-t/0.0007))
		if p.damp > 0 && t > p.damp {
			x[i] *= math.Exp(-(t - p.damp) / 0.012)
		}
	}
	top := 0.0
	for _, v := range x {
		top = math.Max(top, math.Abs(v))
	}
	for i := range x {
		x[i] *= p.peak / top
	}
	return x
}

// unit is the simulated machine.
type unit struct {
	delays []float64 // ms
	levels []float64 // dB re the direct sound, before the tone
	invert []bool
	feeds  []int   // heads that feed the loop, in the parts in which they are heard
	loop   float64 // dB, one turn by the loudest feeding head, before the tone
	tone   []biquad
	drive  float64 // 0: none
	bias   float64
	wow    [2][2]float64 // peak share of speed, Hz; slow and fast
}

// take is how it is recorded.
type recording struct {
	rate    float64
	lead    float64 // s before the note
	seconds float64
	noise   float64 // dBFS RMS; 0: none
	hum     float64 // dBFS peak of the fundamental; 0: none
	clip    float64 // full scale; 0: none
	plucks  int     // how often the note is struck (0: once)
	every   float64 // s between them
}

type biquad struct{ b0, b1, b2, a1, a2, x1, x2, y1, y2 float64 }

func (q *biquad) step(x float64) float64 {
	y := q.b0*x + q.b1*q.x1 + q.b2*q.x2 - q.a1*q.y1 - q.a2*q.y2
	q.x2, q.x1, q.y2, q.y1 = q.x1, x, q.y1, y
	return y
}

// magnitude at f for a filter made for the oversampled rate.
func (q biquad) magnitude(f, rate float64) float64 {
	at := func(c0, c1, c2 float64) float64 {
		w := 2 * math.Pi * f / rate
		re := c0 + c1*math.Cos(w) + c2*math.Cos(2*w)
		im := c1*math.Sin(w) + c2*math.Sin(2*w)
		return math.Hypot(re, im)
	}
	return at(q.b0, q.b1, q.b2) / at(1, q.a1, q.a2)
}

// onePole low or high cut by the bilinear transform.
func lowPass1(f, rate float64) biquad {
	k := math.Tan(math.Pi * f / rate)
	return biquad{b0: k / (1 + k), b1: k / (1 + k), a1: (k - 1) / (k + 1)}
}

func highPass1(f, rate float64) biquad {
	k := math.Tan(math.Pi * f / rate)
	return biquad{b0: 1 / (1 + k), b1: -1 / (1 + k), a1: (k - 1) / (k + 1)}
}

// lowPass2 is a second-order low-pass of quality q (0.707: Butterworth).
func lowPass2(f, q, rate float64) biquad {
	k := math.Tan(math.Pi * f / rate)
	n := 1 / (1 + k/q + k*k)
	return biquad{b0: k * k * n, b1: 2 * k * k * n, b2: k * k * n, a1: 2 * (k*k - 1) * n, a2: (1 - k/q + k*k) * n}
}

// hump lifts the neighbourhood of f by gain dB.
func hump(f, gain, q, rate float64) biquad {
	k, v := math.Tan(math.Pi*f/rate), math.Pow(10, gain/20)
	n := 1 / (1 + k/q + k*k)
	return biquad{
		b0: (1 + v*k/q + k*k) * n, b1: 2 * (k*k - 1) * n, b2: (1 - v*k/q + k*k) * n,
		a1: 2 * (k*k - 1) * n, a2: (1 - k/q + k*k) * n,
	}
}

func (u unit) toneAt(f, rate float64) float64 {
	g := 1.0
	for _, q := range u.tone {
		g *= q.magnitude(f, rate)
	}
	return g
}

// play is what the unit puts out for x, both at the oversampled rate.
func (u unit) play(x []float64, rate float64) []float64 {
	const pad = 8
	longest, loudest := 0.0, 0.0
	gains := make([]float64, len(u.delays))
	for k, d := range u.delays {
		longest = math.Max(longest, d)
		gains[k] = math.Pow(10, u.levels[k]/20)
		if u.invert != nil && u.invert[k] {
			gains[k] = -gains[k]
		}
	}
	for _, k := range u.feeds {
		loudest = math.Max(loudest, math.Abs(gains[k]))
	}
	before := int(longest/1000*rate*1.1) + 2*pad
	memory := make([]float64, before+len(x)+pad)
	tone := append([]biquad(nil), u.tone...)
	out := make([]float64, len(x))
	loop := math.Pow(10, u.loop/20)
	for i := range x {
		t := float64(i) / rate
		in := x[i]
		for k, d := range u.delays {
			v := lagrange6(memory, float64(before+i)-u.lateness(t, d/1000)*rate)
			out[i] += gains[k] * v
			for _, f := range u.feeds {
				if f == k {
					in += loop * gains[k] / loudest * v
				}
			}
		}
		if u.drive > 0 {
			b := math.Tanh(u.bias)
			in = (math.Tanh(u.drive*in+u.bias) - b) / (u.drive * (1 - b*b))
		}
		for j := range tone {
			in = tone[j].step(in)
		}
		memory[before+i] = in
	}
	return out
}

// lateness solves ∫ speed from t−τ to t = d for τ by Newton's method.
func (u unit) lateness(t, d float64) float64 {
	way := func(t float64) float64 { // the integral of the speed
		p := t
		for _, w := range u.wow {
			if w[1] > 0 {
				p -= w[0] / (2 * math.Pi * w[1]) * math.Cos(2*math.Pi*w[1]*t+1)
			}
		}
		return p
	}
	if u.wow[0][0] == 0 && u.wow[1][0] == 0 {
		return d
	}
	tau := d
	for range 4 {
		tau += d - (way(t) - way(t-tau))
	}
	return tau
}

func lagrange6(m []float64, at float64) float64 {
	i := int(math.Floor(at))
	u := at - float64(i)
	sum := 0.0
	for j := -2; j <= 3; j++ {
		c := 1.0
		for k := -2; k <= 3; k++ {
			if k != j {
				c *= (u - float64(k)) / float64(j-k)
			}
		}
		sum += c * m[i+j]
	}
	return sum
}

// record is a take of the note through the unit: dry and wet mixed, and the dry
// sound alone.
func record(rng *rand.Rand, p plucked, u unit, r recording) (mixed, wet, dry []float64) {
	rate := r.rate * over
	x := make([]float64, int((r.seconds+0.05)*rate))
	for n := range max(1, r.plucks) {
		at := int((r.lead + float64(n)*r.every) * rate)
		for i, v := range p.wave(rng, rate, math.Min(3, r.seconds-r.lead-float64(n)*r.every)) {
			x[at+i] += v
		}
	}
	y := u.play(x, rate)
	n := int(r.seconds * r.rate)
	dry, wet = slower(x, n), slower(y, n)
	mixed = make([]float64, n)
	for i := range mixed {
		t := float64(i) / r.rate
		for h, a := range []float64{1, 0.2, 0.5, 0.1, 0.25} {
			if r.hum != 0 {
				mixed[i] += a * math.Pow(10, r.hum/20) * math.Sin(2*math.Pi*50*float64(h+1)*t+float64(h))
			}
		}
		if r.noise != 0 {
			mixed[i] += math.Pow(10, r.noise/20) * rng.NormFloat64()
			wet[i] += math.Pow(10, r.noise/20) * rng.NormFloat64()
			dry[i] += math.Pow(10, r.noise/20) * rng.NormFloat64()
		}
		mixed[i] += dry[i] + wet[i]
		if r.clip > 0 {
			mixed[i] = math.Max(-r.clip, math.Min(r.clip, mixed[i]))
		}
	}
	return mixed, wet, dry
}

// slower is every over-th sample of x after a long low-pass.
func slower(x []float64, n int) []float64 {
	const half = 96
	var h [2*half + 1]float64
	for i := range h {
		t := float64(i - half)
		h[i] = 0.5 + 0.5*math.Cos(math.Pi*t/(half+1))
		if t != 0 {
			h[i] *= math.Sin(math.Pi*t*0.9/over) / (math.Pi * t)
		} else {
			h[i] *= 0.9 / over
		}
	}
	y := make([]float64, n)
	for i := range y {
		for j, c := range h {
			if k := i*over + j - half; k >= 0 && k < len(x) {
				y[i] += c * x[k]
			}
		}
	}
	return y
}

// truth is the profile that a perfect measurement of the unit would give.
func (u unit) truth(heads []int, rate float64) preset.Unit {
	loudest := math.Inf(-1)
	for _, l := range u.levels {
		loudest = math.Max(loudest, l)
	}
	at1k := 20 * math.Log10(u.toneAt(1000, rate*over))
	var out preset.Unit
	for k, d := range u.delays {
		out.Heads = append(out.Heads, preset.Head{
			Head: heads[k], Delay: preset.Millis(d), Level: preset.Decibels(u.levels[k] - loudest),
			Inverted: u.invert != nil && u.invert[k],
		})
	}
	out.Direct = &preset.Direct{EchoToDirect: preset.Decibels(loudest + at1k)}
	if len(u.feeds) > 0 {
		out.Feedback = &preset.Feedback{Gain: preset.Decibels(u.loop + at1k)}
		for _, k := range u.feeds {
			out.Feedback.Heads = append(out.Feedback.Heads, heads[k])
		}
	}
	return out
}
