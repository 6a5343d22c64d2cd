package compare

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"echowright/preset"
)

// A Band is what differs in a third of an octave. Centre is nominal: a power of
// the tenth root of ten (IEC 61260-1).
type Band struct {
	Centre  preset.Hertz
	Level   preset.Decibels // of A, to its loudest band
	Delta   preset.Decibels // B less A
	DeltaSD preset.Decibels
}

const (
	welch      = 8192 // samples of a spectrum
	toneFloor  = -60  // dB to the loudest band: what is softer in either take is noise as likely as not
	lowestBand = 17   // 10^1.7 = 50 Hz
)

// spectra are the powers of two sounds and of what they have in common.
type spectra struct {
	aa, bb []float64
	ab     []complex128
	blocks float64
}

// tones are the differences in level of all channels together, by third-octave
// band.
func tones(a, b [][]float64, rate preset.Hertz) []Band {
	s := spectra{aa: make([]float64, welch/2+1), bb: make([]float64, welch/2+1), ab: make([]complex128, welch/2+1)}
	fft := fourier.NewFFT(welch)
	for c := range a {
		s.add(fft, a[c], b[c])
	}
	loudest := 0.0
	var all []Band
	var powers []float64
	for k := lowestBand; ; k++ {
		centre := math.Pow(10, float64(k)/10)
		low, high := centre*math.Pow(10, -0.05), centre*math.Pow(10, 0.05)
		if high > 0.45*float64(rate) {
			break
		}
		band, power := s.band(low, high, float64(rate))
		band.Centre = preset.Hertz(centre)
		all, powers = append(all, band), append(powers, power)
		loudest = math.Max(loudest, power)
	}
	kept := all[:0]
	for i, band := range all {
		band.Level = preset.Decibels(10 * math.Log10(powers[i]/loudest))
		if band.Level > toneFloor && band.Level+band.Delta > toneFloor {
			kept = append(kept, band)
		}
	}
	return kept
}

// add adds up the spectra of blocks under a Hann window, each half over the last.
func (s *spectra) add(fft *fourier.FFT, a, b []float64) {
	window := make([]float64, welch)
	for i := range window {
		window[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/welch)
	}
	x, y := make([]float64, welch), make([]float64, welch)
	var fa, fb []complex128
	for at := 0; at < len(a); at += welch / 2 {
		clear(x)
		clear(y)
		n := copy(x, a[at:])
		copy(y, b[at:])
		for i := range n {
			x[i] *= window[i]
			y[i] *= window[i]
		}
		fa, fb = fft.Coefficients(fa, x), fft.Coefficients(fb, y)
		for i, v := range fa {
			w := fb[i]
			s.aa[i] += real(v)*real(v) + imag(v)*imag(v)
			s.bb[i] += real(w)*real(w) + imag(w)*imag(w)
			s.ab[i] += v * complex(real(w), -imag(w))
		}
		s.blocks++
	}
}

// band compares the powers from low to high. The less coherent the sounds are, the
// less a ratio of so many independent values is known (common practice: the
// variance of a ratio of two powers of coherence γ² is 2·(1−γ²)/n of its square).
func (s *spectra) band(low, high, rate float64) (Band, float64) {
	var aa, bb, n float64
	var ab complex128
	for i := int(math.Round(low * welch / rate)); i <= int(math.Round(high*welch/rate)); i++ {
		aa, bb, ab, n = aa+s.aa[i], bb+s.bb[i], ab+s.ab[i], n+1
	}
	if aa <= 0 || bb <= 0 {
		return Band{Delta: preset.Decibels(math.Inf(-1))}, aa
	}
	coherence := math.Min(1, (real(ab)*real(ab)+imag(ab)*imag(ab))/(aa*bb))
	independent := math.Max(1, n*s.blocks/2)
	return Band{
		Delta:   preset.Decibels(10 * math.Log10(bb/aa)),
		DeltaSD: preset.Decibels(nepers / 2 * math.Sqrt(2*(1-coherence)/independent)),
	}, aa
}
