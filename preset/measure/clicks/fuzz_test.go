package clicks

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset/signals"
)

// Whatever is recorded, the heads are numbers or it is refused.
func FuzzMeasure(f *testing.F) {
	f.Add(uint64(1), 60.0, 0.5, 0.0, 0, false)
	f.Add(uint64(2), 1.0, -2.0, 0.01, 500, true)
	f.Add(uint64(3), 199.0, 1e-9, 1e3, 9000, false)
	f.Fuzz(func(t *testing.T, seed uint64, delay, gain, noise float64, cut int, two bool) {
		if !(math.Abs(delay) < 1e4) {
			return
		}
		random := rand.New(rand.NewPCG(seed, 2))
		s := signals.Signal{Rate: 8000, Level: -20, Lead: 50, Clicks: &signals.Clicks{Count: 4, Spacing: 400, HighCut: 3000}}
		take := machine{delays: []float64{delay}, gains: []float64{gain}, direct: 1, two: two}.take(s)
		for i := range take.Samples {
			take.Samples[i] += noise * random.NormFloat64()
		}
		if n := cut & 0x3fff; n < len(take.Samples) {
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
		for _, v := range []float64{float64(h.Delay), float64(h.DelaySD), float64(h.LevelSD), float64(r.Direct.EchoToDirect)} {
			require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "%+v", h)
		}
	})
}
