package steadytone

import (
	"math"
	"math/cmplx"
)

const (
	thinRate = 4000.0 // Hz at the least, at which speeds are had
	passBand = 300.0  // Hz to each side of the tone
	stopBand = 1500.0
)

// A sample of speed: the deviation from that of the tone's first second, and
// the tone's amplitude.
type sample struct {
	deviation float64 // a ratio: 0.001 is 0.1 % fast
	amplitude float64
}

// A demodulator turns sound into speed.
type demodulator struct {
	tone      float64 // Hz, that of the oscillator
	rate      float64 // of the samples of speed
	turn, now complex128
	re, im    *thinner
	last      complex128

	mixedRe, mixedIm, thinRe, thinIm []float64
	out                              []sample
}

func newDemodulator(rate, tone float64) *demodulator {
	step := max(1, int(rate/thinRate))
	taps := lowPass(rate, passBand, stopBand)
	return &demodulator{
		tone: tone, rate: rate / float64(step),
		turn: cmplx.Rect(1, -2*math.Pi*tone/rate), now: 1,
		re: &thinner{taps: taps, step: step}, im: &thinner{taps: taps, step: step},
	}
}

// add returns the speeds that the block completes; they are overwritten by the
// next call.
func (d *demodulator) add(block []float64) []sample {
	d.mixedRe, d.mixedIm = d.mixedRe[:0], d.mixedIm[:0]
	for _, v := range block {
		d.mixedRe = append(d.mixedRe, 2*v*real(d.now))
		d.mixedIm = append(d.mixedIm, 2*v*imag(d.now))
		d.now *= d.turn
	}
	d.now /= complex(cmplx.Abs(d.now), 0)
	d.thinRe = d.re.add(d.mixedRe, d.thinRe[:0])
	d.thinIm = d.im.add(d.mixedIm, d.thinIm[:0])
	d.out = d.out[:0]
	for i, re := range d.thinRe {
		z := complex(re, d.thinIm[i])
		step := cmplx.Phase(z * cmplx.Conj(d.last))
		d.last = z
		d.out = append(d.out, sample{deviation: step * d.rate / (2 * math.Pi * d.tone), amplitude: cmplx.Abs(z)})
	}
	return d.out
}

// A thinner limits a stream's band and keeps every step-th sample.
type thinner struct {
	taps []float64
	step int
	kept []float64 // what the next output still needs
	skip int       // samples of kept that lie before it
}

// add appends the samples that in completes to out.
func (t *thinner) add(in, out []float64) []float64 {
	t.kept = append(t.kept, in...)
	for t.skip+len(t.taps) <= len(t.kept) {
		sum := 0.0
		for i, v := range t.kept[t.skip : t.skip+len(t.taps)] {
			sum += v * t.taps[i]
		}
		out = append(out, sum)
		t.skip += t.step
	}
	gone := min(t.skip, len(t.kept))
	t.kept = t.kept[:copy(t.kept, t.kept[gone:])]
	t.skip -= gone
	return out
}

// lowPass is a linear-phase low-pass of unity gain: flat to pass, 74 dB down from
// stop on (sinc under a Blackman window, whose transition is 5.5/N wide).
func lowPass(rate, pass, stop float64) []float64 {
	n := int(math.Ceil(5.5*rate/(stop-pass))) | 1
	cut := (pass + stop) / rate // twice the middle, in periods a sample
	taps, sum := make([]float64, n), 0.0
	for i := range taps {
		x := float64(i - n/2)
		w := float64(i+1) / float64(n+1) * 2 * math.Pi
		taps[i] = 0.42 - 0.5*math.Cos(w) + 0.08*math.Cos(2*w)
		if x != 0 {
			taps[i] *= math.Sin(math.Pi*cut*x) / (math.Pi * cut * x)
		}
		sum += taps[i]
	}
	for i := range taps {
		taps[i] /= sum
	}
	return taps
}
