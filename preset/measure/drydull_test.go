package measure

import (
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/require"
)

// dulled has nothing of x above f Hz: −3 dB there, 60 dB less a sixth of an octave
// higher.
func dulled(x []float64, f float64) []float64 {
	n := 2 * len(x)
	padded := make([]float64, n)
	copy(padded, x)
	s := fourierOf(padded)
	for i := range s {
		s[i] *= complex(1/math.Sqrt(1+math.Pow(float64(i)*dryRate/float64(n)/f, 60)), 0)
	}
	return waveform(s, n)[:len(x)]
}

// A sound without anything bright does not tell the cut of the machine from a delay:
// the deviations have to hold the truth all the same, and a warning says why.
func TestADullSoundIsMeasuredHonestly(t *testing.T) {
	t.Parallel()
	held, told := 0, 0
	for i, c := range []struct {
		top  float64
		tone func(float64) complex128
	}{
		{2000, cutsAt(70, 4000)}, {1200, cutsAt(70, 4000)}, {700, cutsAt(70, 4000)},
		{1500, cutsAt(70, 2000)}, {900, with(cutsAt(70, 0), secondOrder(3000, 0.8))}, {1500, with(cutsAt(70, 0), secondOrder(3000, 0.8))},
	} {
		rng := rand.New(rand.NewSource(int64(40 + i)))
		u := suspected
		u.tone = c.tone
		x := dulled(playing(rng, dryRate, 4, 4), c.top)
		r := measuredPair(t, hissed(rng, x, -70), hissed(rng, u.wet(x, dryRate), -70), dryRate, []int{1, 2})
		if c.top < 1500 {
			require.True(t, warned(r, "told apart poorly"), "%g Hz: %v", c.top, r.Warnings)
		}
		for k, h := range u.truth().Heads {
			g := r.Unit.Heads[k]
			told++
			if math.Abs(float64(g.Delay-h.Delay)) <= 1.96*float64(g.DelaySD) {
				held++
			}
			require.InDelta(t, float64(h.Delay), float64(g.Delay), 3*float64(g.DelaySD), "to %g Hz, head %d: ±%v", c.top, k+1, g.DelaySD)
			require.Less(t, float64(g.DelaySD), 0.1, "a deviation that says nothing is no help")
		}
	}
	require.GreaterOrEqual(t, held, told*9/10, "of %d", told)
}

// A bright sound needs no such warning.
func TestABrightSoundIsNotCalledDull(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewSource(47))
	x := playing(rng, dryRate, 4, 4)
	r := measuredPair(t, hissed(rng, x, -70), hissed(rng, suspected.wet(x, dryRate), -70), dryRate, []int{1, 2})
	require.False(t, warned(r, "told apart poorly"), "%v", r.Warnings)
}
