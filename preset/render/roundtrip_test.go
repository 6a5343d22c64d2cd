package render

import (
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/measure"
)

// pluck is a damped note: harmonics of a string, a little sharp, with a plectrum's
// noise, stopped by the hand after 90 ms.
func pluck(random *rand.Rand, pitch float64, n, at int) []float64 {
	x := make([]float64, n)
	for h := 1.0; h*pitch < 8000; h++ {
		f := pitch * h * math.Sqrt(1+2e-4*h*h)
		phase, a := 2*math.Pi*random.Float64(), (0.3+random.Float64())/h
		for i := at; i < n; i++ {
			s := float64(i-at) / rate
			x[i] += a * math.Exp(-s*(4+f/600)) * math.Sin(2*math.Pi*f*s+phase)
		}
	}
	hiss := 0.0
	for i := at; i < n; i++ {
		s := float64(i-at) / rate
		hiss += 0.3 * (random.NormFloat64()*math.Exp(-s/0.006) - hiss)
		x[i] = (x[i] + hiss) * (1 - math.Exp(-s/0.0007))
		if s > 0.09 {
			x[i] *= math.Exp(-(s - 0.09) / 0.01)
		}
	}
	top := peak(x)
	for i := range x {
		x[i] *= 0.5 / top
	}
	return x
}

// anyUnit is a unit such as there are: two to four heads some 60 to 110 ms apart, a
// loop from the last, one tone.
func anyUnit(random *rand.Rand) preset.Unit {
	u := preset.Unit{Direct: &preset.Direct{EchoToDirect: preset.Decibels(-6 + 5*random.Float64())}}
	heads := 2 + random.IntN(3)
	low, high := preset.Hertz(40+60*random.Float64()), preset.Hertz(2500+3000*random.Float64())
	loudest, delay := random.IntN(heads), 80+60*random.Float64()
	for i := range heads {
		h := preset.Head{Head: i + 1, Delay: preset.Millis(delay), Level: preset.Decibels(-6 * random.Float64()), Inverted: random.IntN(5) == 0, LowCutHz: low, HighCutHz: high}
		if i == loudest {
			h.Level = 0
		}
		u.Heads = append(u.Heads, h)
		delay += 60 + 50*random.Float64()
	}
	u.Feedback = &preset.Feedback{Heads: []int{heads}, Gain: preset.Decibels(-10 + 5*random.Float64())}
	return u
}

// A figure that went in and came back.
type returned struct {
	what          string
	in, out, sure float64 // sure: the standard deviation that the measurement states
}

// Units are rendered with noise and measured blind; what comes back must lie within
// the stated uncertainty, 1.96 standard deviations, in 95 % of cases. Two units in
// a plain run, which allow for one figure beyond; as many as ECHOWRIGHT_ROUND_TRIPS says
// otherwise, for which the 95 % themselves are asked.
func TestUnitsComeBackFromTheirRendering(t *testing.T) {
	t.Parallel() // most of it is the measuring
	trips := 2
	if text := os.Getenv("ECHOWRIGHT_ROUND_TRIPS"); text != "" {
		var err error
		trips, err = strconv.Atoi(text)
		require.NoError(t, err)
	}
	figures, beyond := 0, 0
	for trip := range trips {
		for _, f := range roundTrip(t, uint64(trip)) {
			figures++
			if off := math.Abs(f.out - f.in); off > 1.96*f.sure {
				beyond++
				t.Logf("unit %d: %s: %.4f came back as %.4f ± %.4f", trip, f.what, f.in, f.out, f.sure)
			}
		}
	}
	t.Logf("%d of %d figures within their uncertainty", figures-beyond, figures)
	require.Positive(t, figures)
	require.LessOrEqual(t, beyond, max(1, figures/20))
}

func roundTrip(t *testing.T, seed uint64) []returned {
	random := rand.New(rand.NewPCG(seed, 77))
	u := anyUnit(random)
	p, err := u.Pattern()
	require.NoError(t, err)
	hiss := preset.Decibels(-75)
	x := pluck(random, 110+150*random.Float64(), int(2.6*rate), int(0.3*rate))
	y := rendered(t, Machine{Pattern: p, Direct: 1}.Graph(), Options{Seed: seed, Noise: &hiss}, x)
	r, err := measure.Heads(measure.Take{Rate: rate, Samples: y}, measure.Options{Heads: u.HeadNumbers()})
	require.NoError(t, err)
	require.Len(t, r.Unit.Heads, len(u.Heads))
	var all []returned
	for i, h := range r.Unit.Heads {
		require.Equal(t, u.Heads[i].Inverted, h.Inverted)
		all = append(all, returned{"delay, ms", float64(u.Heads[i].Delay), float64(h.Delay), float64(h.DelaySD)},
			returned{"level, dB", float64(u.Heads[i].Level), float64(h.Level), float64(h.LevelSD)})
	}
	require.NotNil(t, r.Unit.Feedback)
	require.Equal(t, u.Feedback.Heads, r.Unit.Feedback.Heads)
	return append(all, returned{"loop, dB", float64(u.Feedback.Gain), float64(r.Unit.Feedback.Gain), float64(r.Unit.Feedback.GainSD)})
}
