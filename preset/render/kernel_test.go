package render

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

const rate = 48_000.0

// samples is a delay of so many samples at rate.
func samples(n float64) preset.Millis { return preset.SamplesToMillis(n, rate) }

// rendered is what a graph makes of x, all of its latency taken off.
func rendered(tb testing.TB, g Graph, o Options, x []float64) []float64 {
	tb.Helper()
	if o.Rate == 0 {
		o.Rate = rate
	}
	o.Channels = 1
	r, err := New(g, o)
	require.NoError(tb, err)
	y := make([]float64, len(x)+r.Latency())
	copy(y, x)
	require.NoError(tb, r.Process([][]float64{y}, [][]float64{y}))
	return y[r.Latency():]
}

func sineWave(n int, turn, phase float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = math.Sin(turn*float64(i) + phase)
	}
	return x
}

// The project asks for an error below −80 dB up to 0.4 of the rate. What a delayed
// sine must be is known in closed form.
func TestReadingBetweenSamplesIsRightTo80dBAtAnyFraction(t *testing.T) {
	const n, settled = 900, 300
	worst, where := 0.0, ""
	for part := range 65 {
		delay := 100 + float64(part)/64
		g := Graph{Heard: []Path{{From: Input, Delay: samples(delay), Gain: 1}}}
		for _, f := range []float64{0.001, 0.05, 0.1, 0.2, 0.25, 0.3, 0.33, 0.36, 0.38, 0.4} {
			turn := 2 * math.Pi * f
			y := rendered(t, g, Options{}, sineWave(n, turn, 0.3))
			for i := settled; i < n; i++ {
				if e := math.Abs(y[i] - math.Sin(turn*(float64(i)-delay)+0.3)); e > worst {
					worst, where = e, fmt.Sprintf("%g of the rate, delay %g", f, delay)
				}
			}
		}
	}
	t.Logf("worst: %.1f dB, at %s", 20*math.Log10(worst), where)
	require.Less(t, worst, 1e-4, where)
}

// The table that voices read by that move is as good: at a carrier that hardly
// moves (a millionth of a percent) they read what voices at rest read.
func TestReadingFromTheTableIsAsGood(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 4))
	for range 40 {
		delay, turn := 200+random.Float64(), 2*math.Pi*0.4*random.Float64()
		g := Graph{
			Heard:  []Path{{From: Input, Delay: samples(delay), Gain: 1}},
			Motion: &preset.Motion{WowPercent: 1e-6, WowHz: 1},
		}
		y := rendered(t, g, Options{}, sineWave(1200, turn, 0))
		for i := 400; i < len(y); i++ {
			require.InDelta(t, math.Sin(turn*(float64(i)-delay)), y[i], 1e-4, "delay %v, %v of the rate", delay, turn/2/math.Pi)
		}
	}
}

func TestAKernelAtASampleIsThatSample(t *testing.T) {
	for _, u := range []float64{0, 0.5} { // 0.5: a value half-way, as it stands
		k := kernelAt(u)
		for j := range points {
			want := 0.0
			if j == 1 { // near begins two points before the place
				want = 1
			}
			require.InDelta(t, want, k.near[j], 1e-11)
			require.InDelta(t, 0, k.far[j], 1e-11)
		}
	}
	require.InDelta(t, 1.2660658777520084, bessel(1), 1e-12, "I0(1), Abramowitz and Stegun table 9.8")
}
