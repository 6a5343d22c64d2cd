package sweep

import (
	"math"
	"math/cmplx"
	"math/rand/v2"

	"gonum.org/v1/gonum/dsp/fourier"

	"echowright/preset/measure"
	"echowright/preset/signals"

	"echowright/preset/fastlength"
)

// head of a machine that is reckoned in the frequency domain: delays between
// samples and analogue one-pole cuts are exact there.
type head struct{ ms, db, low, high float64 }

func (h head) answer(f float64) complex128 {
	s := complex(0, f)
	g := complex(math.Pow(10, h.db/20), 0)
	if h.low > 0 {
		g *= s / (s + complex(h.low, 0))
	}
	if h.high > 0 {
		g *= complex(h.high, 0) / (s + complex(h.high, 0))
	}
	return g * cmplx.Rect(1, -2*math.Pi*f*h.ms/1000)
}

type machine struct {
	heads         []head
	inverted      int     // the head of that number, from 1, turns the sound over
	direct        float64 // of the direct sound in the wet channel
	loop          float64 // gain of one turn, by the last head
	square, cube  float64 // of the record path: x + square·x² + cube·x³
	late          float64 // s by which the recording began before the signal
	noise         float64 // RMS
	twoChannels   bool
	secondsOfTail float64
}

func usual() machine {
	return machine{direct: 1, late: 0.7, heads: []head{
		{121.37, -7, 70, 3200}, {263.02, -1, 80, 2800}, {405.611, -2, 60, 3500},
	}}
}

// take records the signal through the machine.
func (m machine) take(s signals.Signal) measure.Take {
	rate := float64(s.Rate)
	x := s.Samples()
	late := int(m.late * rate)
	length := late + len(x) + int(m.secondsOfTail*rate)
	n := fastlength.From(length + int(2*rate)) // what goes round the end of the transform has died by then
	dry, driven := make([]float64, n), make([]float64, n)
	for i, v := range x {
		dry[late+i] = v
		driven[late+i] = v + m.square*v*v + m.cube*v*v*v
	}
	fft := fourier.NewFFT(n)
	y, direct := fft.Coefficients(nil, driven), fft.Coefficients(nil, dry)
	for i := range y {
		f := float64(i) * rate / float64(n)
		var sum, turn complex128
		for k, h := range m.heads {
			g := h.answer(f)
			if k == len(m.heads)-1 && f > 0 {
				turn = complex(m.loop, 0) * g / complex(math.Pow(10, h.db/20), 0)
			}
			if k+1 == m.inverted {
				g = -g
			}
			sum += g
		}
		y[i] *= sum / (1 - turn) / complex(float64(n), 0)
		if !m.twoChannels {
			y[i] += direct[i] * complex(m.direct/float64(n), 0)
		}
	}
	random := rand.New(rand.NewPCG(5, 6))
	wet := fft.Sequence(nil, y)[:length]
	for i := range wet {
		wet[i] += m.noise * random.NormFloat64()
	}
	t := measure.Take{Rate: s.Rate, Samples: wet}
	if m.twoChannels {
		t.Dry = dry[:length]
	}
	return t
}

// short is a sweep that keeps the tests quick: L = 0.788 s, and 0.55 s of
// echoes are clear of their distortion.
func short() signals.Signal {
	s := signals.Default(signals.KindSweep)
	s.Rate, s.Sweep.From, s.Sweep.To, s.Sweep.Seconds, s.Tail = 24_000, 20, 10_000, 4.9, 1500
	return s
}
