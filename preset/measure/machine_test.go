package measure

import (
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// burst is a short soft pulse at a time in s: a Gaussian of half a millisecond.
func burst(n int, rate, at float64) []float64 {
	return filled(n, func(i int) float64 {
		u := (float64(i)/rate - at) / 0.0005
		return math.Exp(-u * u)
	})
}

// played is burst and echoes as a machine makes them: take − echoes is the note.
func played(t *testing.T, m machine, x []float64, rate float64) []float64 {
	t.Helper()
	y := append([]float64(nil), x...)
	left := make([]float64, len(x))
	// With the note known everywhere, echoes added to the take until nothing but
	// the note is left are the machine's own.
	for range 12 {
		p := player{sound: sound{rate: rate, take: y}}
		p.note = filled(len(x), func(int) float64 { return 1 })
		require.True(t, p.rest(&m, left))
		for i := range y {
			y[i] += x[i] - left[i]
		}
	}
	return y
}

func TestMachineMakesTheEchoesOfItsPattern(t *testing.T) {
	const rate = 12000.0
	m := machine{delay: []float64{0.0713, 0.1301}, gain: []float64{0.5, -0.8}, feeds: []int{1}, loop: 0.6}
	u := preset.Unit{
		Heads: []preset.Head{
			{Head: 1, Delay: 71.3, Level: preset.FromAmplitude(0.5 / 0.8)},
			{Head: 2, Delay: 130.1, Inverted: true},
		},
		Feedback: &preset.Feedback{Heads: []int{2}, Gain: preset.FromAmplitude(0.6)},
	}
	pattern, err := u.Pattern()
	require.NoError(t, err)
	train, err := pattern.Train(-60, 600)
	require.NoError(t, err)
	want := burst(8000, rate, 0.02)
	for _, e := range train {
		amp := 0.8 * e.Level.Amplitude()
		if e.Inverted {
			amp = -amp
		}
		for i, v := range burst(8000, rate, 0.02+e.At.Seconds()) {
			want[i] += amp * v
		}
	}
	got := played(t, m, burst(8000, rate, 0.02), rate)
	for i := range want {
		require.InDelta(t, want[i], got[i], 2e-3, "sample %d", i)
	}
}

// The first-order displacement of a head by wow lies within wow² of the exact
// one: 0.2 % moves 130 ms by 0.25 ms at the most, its square by 0.5 µs.
func TestWowMovesAHeadAsTheCarrierDoes(t *testing.T) {
	w := motion{sine: 0.001, cosine: 0.0017, rate: 1.3}
	u := unit{wow: [2][2]float64{{w.peak(), w.rate}}}
	// The simulator's speed is 1 + peak·sin(2π·rate·t + 1).
	phase := math.Atan2(w.cosine, w.sine)
	shift := (phase - 1) / (2 * math.Pi * w.rate)
	delays := make([]float64, 3000)
	m := machine{wow: [2]motion{w}}
	m.place(delays, 0, 0.13, 1000)
	for i, d := range delays {
		require.InDelta(t, 1000*u.lateness(float64(i)/1000+shift, 0.13), d, 1e-3, "samples of a millisecond at %d ms", i)
	}
}

func TestSharesFollowTheLevels(t *testing.T) {
	m := machine{gain: []float64{0.5, -0.25, 0.1}, feeds: []int{0, 1}}
	require.Equal(t, []float64{1, -0.5, 0}, m.shares())
	require.Equal(t, []float64{0, 0, 0}, machine{gain: []float64{1, 1, 1}}.shares())
}

func TestMachineThatCannotBePlayedSaysSo(t *testing.T) {
	x := noiseOf(1000, 0.1)
	p := player{sound: sound{rate: 12000, take: x}, note: make([]float64, len(x))}
	left := make([]float64, len(x))
	for name, m := range map[string]machine{
		"a delay shorter than the kernel": {delay: []float64{0.0005}, gain: []float64{1}},
		"a loop that runs away":           {delay: []float64{0.002}, gain: []float64{1}, feeds: []int{0}, loop: 50},
	} {
		p.note = filled(len(x), func(int) float64 { return 1 })
		require.False(t, p.rest(&m, left), name)
	}
}

func TestDriveIsPresets(t *testing.T) {
	d := preset.Drive{Gain: 6, Bias: 0.2}
	k := d.Gain.Amplitude()
	path := newRecordPath(&machine{bend: k * k, bias: d.Bias}, 48000)
	for _, x := range []float64{-0.9, -0.1, 0, 0.001, 0.5} {
		b := math.Tanh(d.Bias)
		want := (math.Tanh(k*x+d.Bias) - b) / (k * (1 - b*b)) // the formula of preset.Drive
		require.InDelta(t, want, path.step(x), 1e-12)
	}
}

func TestPeelingLeavesTheNote(t *testing.T) {
	rng := rand.New(rand.NewSource(21))
	u := unit{delays: []float64{60, 110}, levels: []float64{-3, 0}, feeds: []int{1}, loop: -6}
	x, _, dry := record(rng, shortNote, u, recording{rate: 12000, lead: 0.05, seconds: 1})
	m := machine{delay: []float64{0.06, 0.11}, gain: []float64{math.Pow(10, -0.15), 1}, feeds: []int{1}, loop: math.Pow(10, -0.3)}
	p := player{sound: sound{rate: 12000, take: x, lead: 600}}
	p.lasting(0.25)
	left := make([]float64, len(x))
	require.True(t, p.rest(&m, left))
	for i := range left {
		require.InDelta(t, dry[i], left[i], 0.01, "the simulator's band ends a little above the kernel's; sample %d", i)
	}
}
