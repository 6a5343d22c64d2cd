package levelsteps

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/signals"
)

// Whatever is recorded, the figures are numbers or it is refused.
func FuzzMeasure(f *testing.F) {
	f.Add(uint64(1), 1.0, 0.0, 1, 0, false, 0.0)
	f.Add(uint64(2), 100.0, 0.3, 3, 300, true, 0.0)
	f.Add(uint64(5), 2.0, 1e-4, 300, 0, false, 0.5)
	f.Add(uint64(3), 1e-9, 1e-12, 0, 0, false, -1.0)
	f.Add(uint64(4), math.Inf(1), 0.0, 0, 9000, true, 0.0)
	f.Fuzz(func(t *testing.T, seed uint64, drive, noise float64, delay, cut int, two bool, turn float64) {
		random := rand.New(rand.NewPCG(seed, 2))
		s := signals.Signal{Rate: 8000, Level: -3, Lead: 50, Steps: &signals.Steps{Frequency: 500, Count: 4, Step: 6, Burst: 60, Gap: 100, Fade: 3}}
		x := s.Samples()
		take := measure.Take{Rate: s.Rate, Samples: make([]float64, len(x))}
		back := make([]float64, len(x))
		for i := range x {
			take.Samples[i] = noise * random.NormFloat64()
			if j := i - delay&0xfff; j >= 0 {
				back[i] = math.Tanh(drive*x[j] + turn*back[j])
				take.Samples[i] += back[i]
			}
		}
		if two {
			take.Dry = x
		}
		if n := cut & 0xffff; n < len(x) {
			take.Samples = take.Samples[n:]
			take.Dry = take.Dry[min(n, len(take.Dry)):]
		}
		r, err := Measure(take, s, Options{})
		if err != nil {
			return
		}
		require.Len(t, r.Steps, 4)
		for _, v := range []preset.Decibels{r.Gain, r.EvenToOdd, r.AboveToBelow, r.Steps[0].Out, r.Steps[3].In} {
			require.False(t, math.IsNaN(float64(v)) || math.IsInf(float64(v), 0), "%+v", r)
		}
		if r.Loop != nil {
			require.LessOrEqual(t, float64(r.Loop.Misfit), oneLoop)
			require.False(t, math.IsNaN(float64(r.Loop.Gain+r.Loop.GainSD)))
		}
	})
}
