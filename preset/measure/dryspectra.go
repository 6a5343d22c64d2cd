package measure

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"echowright/preset/fastlength"
)

// spectra are two channels as the fit sees them: their transforms, padded with
// silence so that echoes do not come round to the beginning, and the noise.
type spectra struct {
	rate   float64
	step   float64 // s between two samples as they were recorded
	length int     // samples of the take
	n      int     // of the transforms
	width  float64 // of a bin, rad/s
	x, y   []complex128
	noise  []float64 // of y in each bin, mean |·|²
	// dryNoise is the same of x, for every bin.
	dryNoise float64
	late     []complex128 // slope of y by a drift of the clocks, where that is free
	limit    float64      // Hz: nothing above is fitted to
	fft      *fourier.FFT
}

// stretch is a run of bins, to not included.
type stretch struct{ from, to int }

// even is the least even length from n up whose transform is quick.
func even(n int) int {
	for n += n % 2; !fastlength.Is(n); n += 2 {
	}
	return n
}

// slowed are x, limited to the band, and with only every step-th sample kept. The
// band must end below 1/1.3 of half the new rate.
func slowed(rate float64, b band, step int, channels ...[]float64) [][]float64 {
	size := len(channels[0])
	short := even((size + step - 1) / step)
	for !fastlength.Is(short * step) {
		short = even(short + 2)
	}
	n := short * step
	fft, ifft := fourier.NewFFT(n), fourier.NewFFT(short)
	padded := make([]float64, n)
	var all [][]float64
	for _, x := range channels {
		copy(padded, x)
		kept := fft.Coefficients(nil, padded)[:short/2+1]
		for i := range kept {
			kept[i] *= complex(b.gain(float64(i)*rate/float64(n))/float64(n), 0)
		}
		all = append(all, ifft.Sequence(nil, kept)[:(size+step-1)/step])
	}
	return all
}

// ringsOut is how long echoes are given to die away after the take, s at most.
const ringsOut = 3.0

func newSpectra(dry, wet []float64, rate float64) *spectra {
	n := even(len(wet) + min(len(wet), int(ringsOut*rate)))
	s := &spectra{rate: rate, step: 1 / rate, length: len(wet), n: n, width: 2 * math.Pi * rate / float64(n), limit: rate / 2, fft: fourier.NewFFT(n)}
	s.x, s.y = s.transform(dry), s.transform(wet)
	s.noise = make([]float64, len(s.y))
	return s
}

func (s *spectra) transform(x []float64) []complex128 {
	padded := make([]float64, s.n)
	copy(padded, x)
	return s.fft.Coefficients(nil, padded)
}

func (s *spectra) back(c []complex128) []float64 {
	x := s.fft.Sequence(nil, c)
	for i := range x {
		x[i] /= float64(s.n)
	}
	return x
}

func (s *spectra) bin(f float64) int {
	return max(1, min(len(s.y), int(math.Round(f*float64(s.n)/s.rate))))
}

func (s *spectra) hertz(bin int) float64 { return float64(bin) * s.rate / float64(s.n) }

// blocks are the bins from low to high Hz in blocks; where they would be more than
// most bins, only some blocks, evenly spread.
func (s *spectra) blocks(low, high float64, most int) []stretch {
	from, to := s.bin(low), s.bin(math.Min(high, s.limit))
	skip := 1 + (to-from-1)/max(1, most)
	var all []stretch
	for i := from; i < to; i += skip * blockBins {
		if b := (stretch{i, min(i+blockBins, to)}); s.speaks(b) {
			all = append(all, b)
		}
	}
	if len(all) == 0 {
		all = []stretch{{from, min(from+blockBins, to)}}
	}
	return all
}

// speaks tells whether the dry channel holds enough beside its noise there to say
// anything about the unit.
func (s *spectra) speaks(b stretch) bool {
	sum := 0.0
	for _, v := range s.x[b.from:b.to] {
		sum += real(v)*real(v) + imag(v)*imag(v)
	}
	return sum > dryStandsOut*s.dryNoise*float64(b.to-b.from)
}

const dryStandsOut = 5.0

// made is what the unit makes of the dry channel, as a spectrum.
func (s *spectra) made(u *still) []complex128 {
	sc := newScratch(0, len(u.delay))
	out := make([]complex128, len(s.y))
	for i := 1; i < len(out); i += blockBins {
		b := stretch{i, min(i+blockBins, len(out))}
		u.over(s, b, nil, sc)
		copy(out[b.from:b.to], sc.from)
	}
	return out
}

// reflect puts what u leaves into words of time, lets what lies beyond the end of
// the take be as u says (nobody heard it), and gives back what is left within it.
func (s *spectra) reflect(u *still) []float64 {
	made := s.made(u)
	rest := make([]complex128, len(made))
	for i := range rest {
		rest[i] = s.y[i] - made[i]
	}
	left := s.back(rest)
	clear(left[s.length:])
	for i, v := range s.fft.Coefficients(rest, left) {
		s.y[i] = made[i] + v
	}
	return left[:s.length]
}

// Noise is averaged over this many Hz to each side, or this share of the frequency.
const (
	noiseSpan  = 15.0
	noiseShare = 0.04
)

// listen takes what u leaves for the noise of the wet channel, averaged over
// neighbouring bins; what the dry channel's noise makes of it is taken off. So a
// band that is not understood, or holds hum, weighs little.
func (s *spectra) listen(u *still) {
	sc := newScratch(0, len(u.delay))
	sum := make([]float64, len(s.y)+1)
	for i := range s.noise {
		s.noise[i] = 1
	}
	dry := s.dryNoise
	s.dryNoise = 0
	for i := 0; i < len(s.y); i += blockBins {
		b := stretch{i, min(i+blockBins, len(s.y))}
		u.over(s, b, nil, sc)
		for k := b.from; k < b.to; k++ {
			re, im := sc.rest[2*(k-i)], sc.rest[2*(k-i)+1]
			passed := 0.0
			if v := s.x[k]; v != 0 && dry > 0 {
				h := sc.from[k-i] * inverse(v)
				passed = dry * (real(h)*real(h) + imag(h)*imag(h))
			}
			sum[k+1] = sum[k] + math.Max(re*re+im*im-passed, 0.1*(re*re+im*im))
		}
	}
	s.dryNoise = dry
	s.spread(sum)
}

// spread fills noise from running sums of power.
func (s *spectra) spread(sum []float64) {
	total := sum[len(sum)-1] / float64(len(s.y))
	for i := range s.noise {
		reach := s.bin(math.Max(noiseSpan, noiseShare*s.hertz(i)))
		from, to := max(1, i-reach), min(len(s.y), i+reach+1)
		s.noise[i] = (sum[to]-sum[from])/float64(to-from) + 1e-9*total + 1e-300
	}
}

// assume takes white noise of the given mean square of a sample.
func (s *spectra) assume(power float64) {
	for i := range s.noise {
		s.noise[i] = power*float64(s.length) + 1e-300
	}
}

// top is the frequency, Hz, up to which the unit's sound stands out of the noise
// enough to tell anything, judged by every few blocks of bins.
func (s *spectra) top(u *still) float64 {
	sc := newScratch(0, len(u.delay))
	skip := blockBins * (1 + len(s.y)/(topBlocks*blockBins))
	for from := len(s.y) - blockBins; from > 0; from -= skip {
		b := stretch{from, from + blockBins}
		u.over(s, b, nil, sc)
		sound, noise := 0.0, 0.0
		for i, v := range sc.from[:blockBins] {
			sound += real(v)*real(v) + imag(v)*imag(v)
			noise += s.noise[from+i]
		}
		if sound > standsOut*noise {
			return s.hertz(b.to)
		}
	}
	return s.hertz(min(blockBins, len(s.y)))
}

const topBlocks = 250

// standsOut: a band whose sound has less than this share of its noise's power is
// left out of the fit.
const standsOut = 0.02
