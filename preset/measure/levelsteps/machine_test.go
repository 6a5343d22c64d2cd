package levelsteps

import (
	"math"
	"math/rand/v2"
	"strings"

	"echowright/preset/measure"
	"echowright/preset/signals"
)

// machine bends the sound, colours it with a one-pole low-pass and hands it on
// after a delay in whole samples, sample by sample in time.
type machine struct {
	bend     func(x float64) float64
	high     float64 // Hz, 0 for none
	low      float64 // Hz, 0 for none: with it no steady part goes round
	delays   []float64
	gain     float64
	loop     float64 // of what the first head gives, back to the record path
	direct   float64 // in the wet channel
	two      bool
	late     int // samples before the signal begins
	noise    float64
	recorder func(x float64) float64
}

func tanh(k, bias float64) func(float64) float64 {
	return func(x float64) float64 {
		return (math.Tanh(k*x+bias) - math.Tanh(bias)) / (k * (1 - math.Tanh(bias)*math.Tanh(bias)))
	}
}

func (m machine) take(s signals.Signal) measure.Take {
	rate := float64(s.Rate)
	x := append(make([]float64, m.late), s.Samples()...)
	memory, low, slow := make([]float64, len(x)), 0.0, 0.0
	for i, v := range x {
		if j := i - int(m.first()/1000*rate); m.loop != 0 && j >= 0 {
			v += m.loop * m.gain * memory[j]
		}
		v = m.bend(v)
		if m.high > 0 { // y' = 2π·high·(v − y), by steps small against its time
			const steps = 32
			for range steps {
				low += 2 * math.Pi * m.high / rate / steps * (v - low)
			}
			v = low
		}
		if m.low > 0 {
			slow += (1 - math.Exp(-2*math.Pi*m.low/rate)) * (v - slow)
			v -= slow
		}
		memory[i] = v
	}
	random := rand.New(rand.NewPCG(3, 9))
	t := measure.Take{Rate: s.Rate, Samples: make([]float64, len(x))}
	for i := range x {
		v := m.noise*random.NormFloat64() + m.direct*x[i]
		for _, d := range m.delays {
			if j := i - int(d/1000*rate); j >= 0 {
				v += m.gain * memory[j]
			}
		}
		if m.recorder != nil {
			v = m.recorder(v)
		}
		t.Samples[i] = v
	}
	if m.two {
		t.Dry = x
	}
	return t
}

func (m machine) first() float64 {
	if len(m.delays) == 0 {
		return 0
	}
	return m.delays[0]
}

// usual is a machine behind which a full-scale sine is of use: the curves of the
// textbooks have their knee near 1.
func usual() machine {
	return machine{bend: tanh(1, 0), delays: []float64{121}, gain: 0.7, direct: 1, late: 7777}
}

func loud() signals.Signal {
	s := signals.Default(signals.KindSteps)
	s.Level, s.Steps.Count, s.Steps.Step, s.Steps.Gap = 0, 16, 2, 300
	return s
}

func told(r Result, words string) bool {
	for _, w := range r.Warnings {
		if strings.Contains(w.String(), words) {
			return true
		}
	}
	return false
}
