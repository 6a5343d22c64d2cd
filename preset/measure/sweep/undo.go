package sweep

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"echowright/preset/measure"
	"echowright/preset/measure/response"
	"echowright/preset/signals"

	"echowright/preset/fastlength"
)

// highestOrder of the harmonics that are told.
const highestOrder = 5

// Undo gives the impulse response of the way from the signal to the take: 1 at
// one place, as far as the band allows, is a plain wire. The take and the signal
// must be of one rate.
func Undo(take measure.Take, s signals.Signal) response.Trace {
	t := response.Trace{Rate: take.Rate, Low: s.Sweep.From, High: s.Sweep.To}
	for n := 2; n <= highestOrder; n++ {
		t.Ghosts = append(t.Ghosts, s.Sweep.Ahead(n))
	}
	filter := inverse(s)
	n := fastlength.From(len(take.Samples) + len(filter))
	fft := fourier.NewFFT(n)
	v := fft.Coefficients(nil, padded(filter, n))
	undo := func(x []float64) []float64 {
		y := fft.Coefficients(nil, padded(x, n))
		for i := range y {
			y[i] *= v[i] * complex(1/float64(n), 0)
		}
		return fft.Sequence(nil, y)[:len(take.Samples)+len(filter)-1]
	}
	t.Wet = undo(take.Samples)
	if take.Dry != nil {
		t.Dry = undo(take.Dry)
	}
	return t
}

// inverse is Farina's inverse filter: the sweep turned round in time and falling
// by e^(−t/L), scaled so that the sweep itself comes out as a pulse of 1. For the
// spectrum of the sweep has the magnitude A/2·√(L/f) a second and that of the
// filter f/To times as much.
func inverse(s signals.Signal) []float64 {
	rate, l, amplitude := float64(s.Rate), s.Sweep.TimeConstant(), s.Peak()
	bare := s
	bare.Lead, bare.Tail = 0, 0
	x := bare.Samples()
	scale := 4 * float64(s.Sweep.To) / (l * amplitude * amplitude * rate * rate)
	v := make([]float64, len(x))
	for i := range v {
		v[i] = scale * math.Exp(-float64(i)/rate/l) * x[len(x)-1-i]
	}
	return v
}

func padded(x []float64, n int) []float64 {
	p := make([]float64, n)
	copy(p, x)
	return p
}
