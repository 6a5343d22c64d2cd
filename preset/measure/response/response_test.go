package response

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/dsp/fourier"

	"echowright/preset"
	"echowright/preset/signals"
)

func TestCheckHeads(t *testing.T) {
	require.NoError(t, CheckHeads([]int{2, 4, 6}))
	for _, heads := range [][]int{nil, {0}, {65}, {3, 2}, {2, 2}} {
		require.Error(t, CheckHeads(heads), "%v", heads)
	}
}

// One-pole cuts come back from their own formula within 1 %; a cut outside the
// curve is not told, and a curve of another shape is said to be one.
func TestFitTone(t *testing.T) {
	for _, want := range []preset.Tone{
		{}, {LowCut: 80}, {HighCut: 3000}, {LowCut: 70, HighCut: 3200}, {LowCut: 300, HighCut: 900},
	} {
		var points []Point
		for f := preset.Hertz(40); f < 15_000; f *= 1.06 {
			points = append(points, Point{Hz: f, Level: -7 + preset.FromAmplitude(want.Magnitude(f))})
		}
		got, off := fitTone(points)
		require.InDelta(t, float64(want.LowCut), float64(got.LowCut), 0.01*float64(want.LowCut))
		require.InDelta(t, float64(want.HighCut), float64(got.HighCut), 0.01*float64(want.HighCut))
		require.Less(t, float64(off), 0.02)
	}
	var steep []Point
	for f := preset.Hertz(40); f < 8000; f *= 1.06 {
		four := preset.Tone{HighCut: 2000}.Magnitude(f)
		steep = append(steep, Point{Hz: f, Level: preset.FromAmplitude(math.Pow(four, 4))})
	}
	_, off := fitTone(steep)
	require.Greater(t, float64(off), 1.0)
	few, _ := fitTone(steep[:3])
	require.Zero(t, few)
}

func TestGateLeavesTheMiddleAndNothingOutside(t *testing.T) {
	g := gateAt(place{at: 5000, before: 4000, next: 6000}, 48_000)
	require.Equal(t, Gate{At: 5000, Before: 500, After: 500}, g, "half of the way to the one before, and free of the next one's")
	require.Zero(t, g.weight(-500))
	require.Zero(t, g.weight(500))
	for i := -250; i <= 250; i++ {
		require.InDelta(t, 1, g.weight(i), 1e-12)
	}
	require.Equal(t, Gate{At: 5100, Before: 500, After: 500}, g.Shifted(100))
	require.InDelta(t, 1000.0/48_000, g.Seconds(48_000), 1e-12)

	// A pulse at the gate's place is white and has no phase; what lies outside
	// the trace is silence.
	h := make([]float64, 5001)
	h[5000] = 1
	s := g.Spectrum(h, 48_000)
	for _, v := range s.Values {
		require.InDelta(t, 0, cmplx.Abs(v-1), 1e-9)
	}
	require.InDelta(t, 1, s.Magnitude(1000, 1.0/3), 1e-9)
	require.Zero(t, s.Magnitude(1e6, 1.0/3))
}

// pulses are band-limited pulses at places between the samples.
func pulses(n int, rate float64, at, size []float64) []float64 {
	x := make([]float64, n)
	for k := range at {
		for i := range x {
			d := 2 * 6000 / rate * (float64(i) - at[k]*rate)
			if math.Abs(d) < 40 {
				w := math.Cos(math.Pi * d / 80)
				v := 1.0
				if d != 0 {
					v = math.Sin(math.Pi*d) / (math.Pi * d)
				}
				x[i] += size[k] * v * w * w
			}
		}
	}
	return x
}

func TestMeasureWithoutTone(t *testing.T) {
	const rate = 24_000
	for _, two := range []bool{false, true} {
		at, size := []float64{0.05, 0.17013, 0.29021}, []float64{1, 0.5, -0.8}
		trace := Trace{Rate: rate, Low: 20, High: 6000}
		if two {
			trace.Dry = pulses(rate, rate, at[:1], size[:1])
			trace.Wet = pulses(rate, rate, at[1:], size[1:])
		} else {
			trace.Wet = pulses(rate, rate, at, size)
		}
		r, err := trace.Measure([]int{1, 3})
		require.NoError(t, err)
		require.InDelta(t, 120.13, float64(r.Heads[0].Delay), 0.002)
		require.InDelta(t, 240.21, float64(r.Heads[1].Delay), 0.002)
		require.InDelta(t, 20*math.Log10(0.5/0.8), float64(r.Heads[0].Level), 0.01)
		require.Zero(t, r.Heads[1].Level)
		require.InDelta(t, 20*math.Log10(0.8), float64(r.Direct.EchoToDirect), 0.01)
		require.False(t, r.Heads[0].Inverted)
		require.True(t, r.Heads[1].Inverted)
		require.Zero(t, r.Heads[0].HighCutHz, "it has no cut")
		require.Empty(t, r.Later)
		require.Empty(t, r.Warnings)
	}
}

func TestGhostsAreNoDirectSound(t *testing.T) {
	const rate = 24_000
	trace := Trace{Rate: rate, Low: 20, High: 6000, Ghosts: []preset.Millis{300}}
	// A tenth stands 300 ms before the direct sound: a harmonic of a sweep.
	trace.Wet = pulses(2*rate, rate, []float64{0.5, 0.8, 0.95}, []float64{0.1, 1, 0.5})
	r, err := trace.Measure([]int{1})
	require.NoError(t, err)
	require.InDelta(t, 150, float64(r.Heads[0].Delay), 0.002)

	trace.Ghosts = nil
	r, err = trace.Measure([]int{1})
	require.NoError(t, err)
	require.InDelta(t, 300, float64(r.Heads[0].Delay), 0.002, "else it would have been one")
}

func TestGhostsAreHeadsOnlyWhereTooFewEchoesAreLeft(t *testing.T) {
	const rate = 24_000
	trace := Trace{Rate: rate, Low: 20, High: 6000, Ghosts: []preset.Millis{200}}
	// A tenth stands 200 ms before the second echo.
	trace.Wet = pulses(2*rate, rate, []float64{0.5, 0.65, 0.7, 0.9}, []float64{1, 0.5, 0.08, 0.8})
	r, err := trace.Measure([]int{1, 2})
	require.NoError(t, err)
	require.InDelta(t, 150, float64(r.Heads[0].Delay), 0.002)
	require.InDelta(t, 400, float64(r.Heads[1].Delay), 0.002)
	require.Empty(t, r.Warnings)

	r, err = trace.Measure([]int{1, 2, 3})
	require.NoError(t, err)
	require.InDelta(t, 200, float64(r.Heads[1].Delay), 0.002)
	require.Len(t, r.Warnings, 1)
	require.Contains(t, r.Warnings[0].What, "head 2 stands where the distortion of a later, louder echo would")
}

func TestMeasureRefuses(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 1))
	noise := make([]float64, 20_000)
	for i := range noise {
		noise[i] = random.NormFloat64()
	}
	var refusal *signals.Refusal
	for name, wet := range map[string][]float64{"silence": make([]float64, 20_000), "noise": noise} {
		_, err := Trace{Rate: 24_000, Low: 20, High: 6000, Wet: wet}.Measure([]int{1})
		require.ErrorAs(t, err, &refusal, name)
	}
	_, err := Trace{Rate: 24_000, Low: 20, High: 6000, Wet: noise, Dry: make([]float64, 20_000)}.Measure([]int{1})
	require.ErrorContains(t, err, "does not hold the signal", "a silent dry channel")
	one := Trace{Rate: 24_000, Low: 20, High: 6000, Wet: pulses(24_000, 24_000, []float64{0.3}, []float64{1})}
	_, err = one.Measure([]int{1})
	require.ErrorContains(t, err, "1 heads named, 0 echoes found")
	_, err = Trace{Rate: 24_000}.Measure([]int{1})
	require.ErrorContains(t, err, "same length")
	one.Rate = 0
	_, err = one.Measure([]int{1})
	require.ErrorContains(t, err, "sample rate")
	_, err = one.Measure(nil)
	require.ErrorContains(t, err, "name the heads")
}

// Two responses of one head, 0.3 ms apart: the mean lies between them, and adding
// takes nothing from the level. Their standard deviation is 0.3/√2 ms.
func TestEachIsLaidOnTheOther(t *testing.T) {
	const rate = 24_000
	trace := Trace{Rate: rate, Low: 20, High: 6000, Wet: make([]float64, rate)}
	for _, at := range []float64{0.2, 0.2003} {
		one := pulses(rate, rate, []float64{0.1, at}, []float64{1, -0.5})
		for i, v := range one {
			trace.Wet[i] += v / 2
		}
		trace.Each = append(trace.Each, one)
	}
	r, err := trace.Measure([]int{1})
	require.NoError(t, err)
	w := r.Ways[0]
	require.InDelta(t, 100.15, float64(w.Delay), 0.01)
	require.InDelta(t, 20*math.Log10(0.5), float64(w.Level), 0.02)
	require.True(t, w.Inverted)
	require.InDelta(t, 0.3/math.Sqrt2, float64(w.Wander), 0.005)
	require.InDelta(t, 0.15, float64(r.Heads[0].DelaySD), 0.005, "of the mean of two")
}

// tornBy is what a sweep shows of a head whose delay swings by some ms to each side
// of 100 ms, one and a half times while the frequency grows by the factor e.
func tornBy(ms float64) Trace {
	const rate, n = 24_000, 24_000
	s := make([]complex128, n/2+1)
	for i := 20; i <= 10_000; i++ { // Hz
		f := float64(i)
		swing := ms * math.Sin(2*math.Pi*1.5*math.Log(f))
		s[i] = cmplx.Rect(1.0/n, -2*math.Pi*f*0.1) - cmplx.Rect(0.5/n, -2*math.Pi*f*(0.3+swing/1000))
	}
	return Trace{Rate: rate, Low: 20, High: 10_000, Wet: fourier.NewFFT(n).Sequence(nil, s)}
}

// The mean of the delay over the logarithm of the frequency is 200 ms but for
// what the half-finished last swing leaves of it: a twentieth of the swing.
func TestADelayThatWavers(t *testing.T) {
	for _, swing := range []float64{0.15, 0.4} {
		r, err := tornBy(swing).Measure([]int{1})
		require.NoError(t, err)
		w := r.Ways[0]
		require.InDelta(t, 200, float64(w.Delay), 0.1*swing)
		require.InDelta(t, 20*math.Log10(0.5), float64(w.Level), 0.5)
		require.True(t, w.Inverted)
		require.InEpsilon(t, swing/math.Sqrt2, float64(w.Wander), 0.1)
		require.InDelta(t, float64(w.Wander)/3, float64(w.DelaySD), 1e-9)
		require.Contains(t, r.Warnings[0].What, "the speed wavers")
	}
	_, err := tornBy(12).Measure([]int{1})
	var refusal *signals.Refusal
	require.ErrorAs(t, err, &refusal)
	require.ErrorContains(t, err, "torn apart")
}
