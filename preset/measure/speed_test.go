package measure

import (
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/require"
)

// trueSpeed is the speed of a simulated unit at t (s from the start of the take),
// in percent off its mean: what its lateness integrates.
func (u unit) trueSpeed(t float64) float64 {
	v := 0.0
	for _, w := range u.wow {
		v += 100 * w[0] * math.Sin(2*math.Pi*w[1]*t+1)
	}
	return v
}

func movingUnit() unit {
	u := unit{delays: []float64{81.3, 147.7}, levels: []float64{-2, 0}, feeds: []int{1}, loop: -7, tone: dullTone()}
	u.wow[0] = [2]float64{0.002, 1.3}
	return u
}

// Within a tenth of the wow: a fifth is what the project asks of the wow itself,
// and the speed at a moment contains its phase as well.
func TestSpeedIsTrackedWhileANoteSounds(t *testing.T) {
	for _, c := range []struct {
		name    string
		flutter [2]float64
		take    recording
		off     float64 // percent, root mean square
		told    [][2]float64
		untold  float64
	}{
		{"one note", [2]float64{}, quickTake, 0.02, [][2]float64{{160, 700}}, 100},
		{"with flutter", [2]float64{0.0006, 8.5}, quickTake, 0.03, [][2]float64{{160, 700}}, 100},
		{
			"two notes", [2]float64{}, recording{rate: quickRate, lead: 0.15, seconds: 4, noise: -72, plucks: 2, every: 2},
			0.02, [][2]float64{{160, 700}, {2160, 2700}}, 2140,
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			u := movingUnit()
			u.wow[1] = c.flutter
			x, _, _ := record(rand.New(rand.NewSource(21)), shortNote, u, c.take)
			r, err := Heads(Take{Rate: quickRate, Samples: x}, Options{Heads: []int{1, 2}})
			require.NoError(t, err)
			require.NotEmpty(t, r.Speed)
			at := func(ms float64) float64 { return r.Speed[int(ms/float64(r.SpeedStep))] }
			require.True(t, math.IsNaN(at(c.untold)), "nothing sounds at %v ms", c.untold)
			for _, span := range c.told {
				sum, n := 0.0, 0.0
				for ms := span[0]; ms < span[1]; ms += float64(r.SpeedStep) {
					i := int(ms / float64(r.SpeedStep))
					off := r.Speed[i] - u.trueSpeed((float64(i)+0.5)*float64(r.SpeedStep)/1000)
					sum, n = sum+off*off, n+1
				}
				require.Less(t, math.Sqrt(sum/n), c.off, "from %v to %v ms", span[0], span[1])
			}
		})
	}
}

func TestNoSpeedOfAStillMachine(t *testing.T) {
	t.Parallel()
	u := movingUnit()
	u.wow = [2][2]float64{}
	x, _, _ := record(rand.New(rand.NewSource(22)), shortNote, u, quickTake)
	r, err := Heads(Take{Rate: quickRate, Samples: x}, Options{Heads: []int{1, 2}})
	require.NoError(t, err)
	require.Nil(t, r.Speed)
	require.Zero(t, r.SpeedStep)
}
