package measure

import (
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// The speed that is told for each moment is the one the carrier was simulated
// with, to a fifth of its peak: the project's aim for the size of a wow.
func TestTheSpeedIsToldMomentByMoment(t *testing.T) {
	t.Parallel()
	const peak, hz, cut, seconds = 0.0015, 0.9, 4000.0, 4.0
	rng := rand.New(rand.NewSource(16))
	u := simulated{delays: []float64{121.37, 243.72}, levels: []float64{-4, 0}, feeds: []int{1}, loop: []float64{0.45}, tone: cutsAt(0, cut)}
	x := playing(rng, dryRate, seconds, 3)
	y := u.wavering(x, dryRate, cut, peak, hz)
	r := measuredPair(t, hissed(rng, x, -72), hissed(rng, y, -72), dryRate, []int{1, 2})
	require.Equal(t, preset.Millis(10), r.SpeedStep)
	require.Len(t, r.Speed, int(1000*seconds/float64(r.SpeedStep)))
	told := 0
	for i, v := range r.Speed {
		if math.IsNaN(v) {
			continue
		}
		told++
		at := (float64(i) + 0.5) * float64(r.SpeedStep) / 1000
		require.InDelta(t, 100*peak*math.Sin(2*math.Pi*hz*at), v, 100*peak/5, "at %.3f s", at)
	}
	// The notes take up about half of the take, their echoes more.
	require.Greater(t, told, len(r.Speed)/2)
	require.True(t, math.IsNaN(r.Speed[0]), "before the first echo nothing tells")
	require.Len(t, r.Left, int(1000*seconds/float64(r.LeftStep)))
}

func TestASteadyCarrierHasNoSpeedToTell(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewSource(17))
	u := simulated{delays: []float64{121.37}, levels: []float64{-4}, tone: cutsAt(0, 4000)}
	x := playing(rng, 11_025, 3, 2)
	r := measuredPair(t, hissed(rng, x, -72), hissed(rng, u.wet(x, 11_025), -72), 11_025, []int{1})
	require.Nil(t, r.Speed)
	// 5 ms are no whole number of samples at this rate, so a step is 55 of them.
	require.InDelta(t, 1000*55/11_025.0, float64(r.LeftStep), 1e-9)
	for i, l := range r.Left {
		require.Less(t, float64(l), -60.0, "block %d: no more than the noise at −72 dBFS is left", i)
	}
}

// Where nothing was fitted, nothing is told of what is left either.
func TestWhatWasNotFittedIsNotTold(t *testing.T) {
	e := explanation{c: channels{rate: 1000, wet: make([]float64, 100), wetNoise: 1e-6}, left: make([]float64, 100), fitted: span{0.03, 0.06}}
	for i := range e.c.wet {
		e.c.wet[i], e.left[i] = 0.1, 0.01
	}
	e.moves = &swaying{sways: [2]sway{{sine: 0.001, rate: 0.001}}}
	left, _ := e.leftLevels()
	speed, _ := e.speed()
	for i, l := range left {
		require.Equal(t, i < 6 || i >= 12, math.IsNaN(float64(l)), "block %d of 5 ms", i)
	}
	for i, v := range speed {
		require.Equal(t, i < 3 || i >= 6, math.IsNaN(v), "block %d of 10 ms", i)
	}
}
