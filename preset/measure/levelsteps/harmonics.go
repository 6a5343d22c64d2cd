package levelsteps

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"

	"echowright/preset"
	"echowright/preset/signals"
)

// fitted is up to which order harmonics are fitted: those that are not told take
// their share out of the noise.
const fitted = 9

// harmonics of a burst: size and phase of each, the fundamental first.
type harmonics struct {
	size  []float64    // amplitudes
	value []complex128 // amplitude and phase: Re(value·e^(j·n·ω·t)) from the cut's first sample
	noise float64      // standard deviation of each size
}

// takeApart fits a constant and harmonics to x by least squares, which unlike a
// Fourier transform does not ask for whole periods.
func takeApart(x []float64, s signals.Signal) harmonics {
	f := float64(s.Steps.Frequency / s.Rate)
	orders := min(fitted, int(0.45/f))
	h := harmonics{size: make([]float64, fitted), value: make([]complex128, fitted)}
	columns := 2*orders + 1
	if len(x) <= columns {
		return h
	}
	waves := mat.NewDense(len(x), columns, nil)
	for i := range x {
		waves.Set(i, 0, 1)
		for n := 1; n <= orders; n++ {
			sin, cos := math.Sincos(2 * math.Pi * math.Mod(f*float64(n)*float64(i), 1))
			waves.Set(i, 2*n-1, cos)
			waves.Set(i, 2*n, sin)
		}
	}
	var best mat.VecDense
	if err := best.SolveVec(waves, mat.NewVecDense(len(x), append([]float64(nil), x...))); err != nil {
		return h
	}
	for n := 1; n <= orders; n++ {
		h.value[n-1] = complex(best.AtVec(2*n-1), -best.AtVec(2*n))
		h.size[n-1] = cmplx.Abs(h.value[n-1])
	}
	var left mat.VecDense
	left.MulVec(waves, &best)
	left.SubVec(mat.NewVecDense(len(x), append([]float64(nil), x...)), &left)
	h.noise = mat.Norm(&left, 2) / math.Sqrt(float64(len(x)-columns)) * math.Sqrt(2/float64(len(x)))
	return h
}

// step puts a burst into figures, in being the amplitude of what went in.
func (h harmonics) step(in float64, o Options) Step {
	out := h.size[0]
	s := Step{In: preset.FromAmplitude(in), Out: preset.FromAmplitude(out), Noise: preset.Percent(100 * h.noise / out)}
	s.Gain = s.Out - s.In
	square := 0.0
	for n := 2; n <= highestOrder; n++ {
		ratio := h.size[n-1] / out
		s.Harmonics[n-2] = preset.Percent(100 * ratio)
		square += ratio * ratio
	}
	s.THD = preset.Percent(100 * math.Sqrt(square))
	s.Above, s.Below = h.peaks()
	s.even = h.even()
	if o.Inverted {
		s.Above, s.Below, s.even = s.Below, s.Above, -s.even
	}
	return s
}

// even is the second harmonic as cos 2θ beside a fundamental of sin θ: above 0
// where the upper half of the wave is the flatter one. With C₁ and C₂ the complex
// sizes, sin θ has e^(jθ) ∝ j·C₁, so that it is −C₂·conj(C₁²)/|C₁|².
func (h harmonics) even() float64 {
	one, two := h.value[0], h.value[1]
	return -real(two*cmplx.Conj(one*one)) / (h.size[0] * h.size[0])
}

// peaks of the wave that the harmonics make, upwards and downwards.
func (h harmonics) peaks() (above, below float64) {
	const points = 512
	for i := range points {
		v := 0.0
		for n, c := range h.value {
			v += real(c * cmplx.Rect(1, 2*math.Pi*float64((n+1)*i%points)/points))
		}
		above, below = math.Max(above, v), math.Max(below, -v)
	}
	return above, below
}
