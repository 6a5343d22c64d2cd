package sweep

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset/measure"
	"echowright/preset/signals"
)

// Whatever is recorded, the figures are numbers or it is refused.
func FuzzMeasure(f *testing.F) {
	f.Add(uint64(1), 0.5, 0.0, 900, 0, false)
	f.Add(uint64(2), -3.0, 0.01, 1, 700, true)
	f.Add(uint64(3), 1e-9, 1e3, 3000, 0, false)
	f.Fuzz(func(t *testing.T, seed uint64, gain, noise float64, delay, cut int, two bool) {
		random := rand.New(rand.NewPCG(seed, 2))
		s := signals.Signal{Rate: 8000, Level: -20, Lead: 50, Tail: 500, Sweep: &signals.Sweep{From: 50, To: 3500, Seconds: 0.8, FadeIn: 20}}
		x := s.Samples()
		take := measure.Take{Rate: s.Rate, Samples: make([]float64, len(x))}
		for i := range x {
			take.Samples[i] = noise * random.NormFloat64()
			if j := i - delay&0xfff; j >= 0 {
				take.Samples[i] += gain * x[j]
			}
			if !two {
				take.Samples[i] += x[i]
			}
		}
		if two {
			take.Dry = x
		}
		if n := cut & 0x1fff; n < len(x) {
			take.Samples = take.Samples[n:]
			take.Dry = take.Dry[min(n, len(take.Dry)):]
		}
		if !two {
			take.Dry = nil
		}
		r, err := Measure(take, s, []int{1})
		if err != nil {
			return
		}
		h := r.Heads[0]
		for _, v := range []float64{float64(h.Delay), float64(h.DelaySD), float64(h.LevelSD), float64(r.Direct.EchoToDirect), float64(h.HighCutHz)} {
			require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "%+v", h)
		}
		for _, d := range r.Harmonics {
			for _, point := range d.Curve {
				require.False(t, math.IsNaN(float64(point.Level)) || math.IsInf(float64(point.Level), 0))
			}
		}
	})
}
