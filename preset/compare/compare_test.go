package compare

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/preset/signals"
)

// Nothing is left of a take less itself, which has no logarithm: what is said is
// what rounding to its bits leaves, a twelfth of a step's square in each take.
func TestATakeWithItselfComesDownToTheFloorOfItsFormat(t *testing.T) {
	const rate = 48000.0
	x := newTune(4, 5, 0.5, 10).sampled(3*rate, 0, 1/rate)
	for _, bits := range []int{16, 24} {
		a := mono(rate, x)
		a.Bits = bits
		r := compared(t, a, a, Options{})
		step := math.Pow(2, 1-float64(bits))
		want := 10 * math.Log10(2*step*step/12/(energy(x)/float64(len(x))))
		require.True(t, r.AtFloor())
		require.InDelta(t, want, float64(r.Residual), 0.01)
		require.InDelta(t, 0, float64(r.Alignment.Offset), 1e-6)
		require.InDelta(t, 0, float64(r.Alignment.Gain), 1e-6)
		for _, band := range r.Tone {
			require.InDelta(t, 0, float64(band.Delta), 1e-6)
		}
	}
}

// Noise of a thousandth in B alone leaves just that.
func TestTheResidualIsWhatWasAdded(t *testing.T) {
	const rate = 48000.0
	x := newTune(4, 5, 0.5, 10).sampled(3*rate, 0, 1/rate)
	r := compared(t, mono(rate, x), mono(rate, hissed(x, 1e-3, 1)), Options{})
	want := 10 * math.Log10(1e-6/(energy(x)/float64(len(x))))
	require.InDelta(t, want, float64(r.Residual), 0.1)
	require.False(t, r.AtFloor())
}

// A one-pole low pass y += (1−p)(x−y) has |H|² = (1−p)²/(1−2p·cos ω+p²) (any textbook
// of digital filters). Noise shows it in each band; what is level in both is what
// the alignment takes for equal, so the bands are held against each other.
func TestToneIsThatOfTheFilter(t *testing.T) {
	const rate, pole = 48000.0, 0.7
	x := hissed(make([]float64, 20*rate), 0.1, 5)
	y := make([]float64, len(x))
	low := 0.0
	for i, v := range x {
		low += (1 - pole) * (v - low)
		y[i] = low
	}
	filter := func(f float64) float64 {
		return 10 * math.Log10((1-pole)*(1-pole)/(1-2*pole*math.Cos(2*math.Pi*f/rate)+pole*pole))
	}
	bands := compared(t, mono(rate, x), mono(rate, y), Options{}).Tone
	require.Greater(t, len(bands), 20)
	at := func(f float64) Band {
		best := bands[0]
		for _, b := range bands {
			if math.Abs(math.Log(float64(b.Centre)/f)) < math.Abs(math.Log(float64(best.Centre)/f)) {
				best = b
			}
		}
		return best
	}
	for _, f := range []float64{251, 501, 2000, 3981, 7943} {
		// Two hundred bins and more in each band of hundreds of blocks tell it within 0.2 dB.
		got := at(f).Delta - at(1000).Delta
		require.InDelta(t, filter(f)-filter(1000), float64(got), 0.2, f)
		require.Less(t, float64(at(f).DeltaSD), 0.2)
	}
}

// An echo that comes back every 0.2 s at g falls by 20·lg g a turn.
func TestDecayIsThatOfTheLoop(t *testing.T) {
	const rate = 24000.0
	dry := newTune(8, 1, 1, 60).sampled(5*rate, 0, 1/rate)
	with := func(loop float64, seed uint64) Take {
		return mono(rate, hissed(plain{heads: []head{{4800, 0.9}}, loop: loop}.play(dry, 1), 1e-5, seed))
	}
	d := compared(t, with(0.7, 1), with(0.6, 2), Options{}).Decay
	require.NotNil(t, d)
	// The line is laid through a curve of steps, over 20 dB: within a tenth.
	require.InEpsilon(t, -20*math.Log10(0.7)/0.2, d.A, 0.1)
	require.InEpsilon(t, -20*math.Log10(0.6)/0.2, d.B, 0.1)
}

// Bursts through tanh(k·x+b)/k: the harder the drive, the more a loud burst is
// compressed, by the fundamental of tanh (a table of it stands in the tests of
// levelsteps); here the takes are held against each other and against no drive.
func TestStepsTellTheDriveOfBothTakes(t *testing.T) {
	const rate = 48000
	s := signals.Default(signals.KindSteps)
	s.Rate, s.Level, s.Steps.Count = rate, -6, 6
	dry := make([]float64, int(s.Seconds()*rate)+rate)
	copy(dry, s.Samples())
	with := func(drive, bias float64) Take {
		wet := plain{heads: []head{{int(0.02 * rate), 1}}, drive: drive, bias: bias}.play(dry, 0)
		return Take{Rate: rate, Channels: [][]float64{dry, wet}, Dry: 1}
	}
	r := compared(t, with(1, 0), with(6, 0.3), Options{Steps: &s})
	require.Len(t, r.Steps.Steps, 6)
	soft, loud := r.Steps.Steps[0], r.Steps.Steps[5]
	require.InDelta(t, 0, float64(soft.GainA), 0.02)
	// The loudest bursts lie at −6 dBFS: their peaks at 0.501 of full scale.
	require.InDelta(t, fundamental(1, 0, math.Pow(10, -0.3)), float64(loud.GainA), 0.03)
	require.InDelta(t, fundamental(6, 0.3, math.Pow(10, -0.3)), float64(loud.GainB), 0.1)
	require.Greater(t, loud.THDB, loud.THDA)
	require.InDelta(t, 0, float64(loud.PeaksA), 0.01)
	require.Greater(t, math.Abs(float64(loud.PeaksB)), 0.5)
	require.NotNil(t, r.Steps.OneDBB)
	require.InDelta(t, 0, float64(r.Alignment.Gain), 1e-6, "the direct sound is the same")
}

// fundamental is the gain in dB of (tanh(k·x+b) − tanh b)/k for a sine of that
// amplitude, to that for a soft one: its Fourier integral over a period.
func fundamental(k, b, amplitude float64) float64 {
	const n = 20000
	sum := 0.0
	for i := range n {
		s := math.Sin(2 * math.Pi * (float64(i) + 0.5) / n)
		sum += 2.0 / n * s * math.Tanh(k*amplitude*s+b) / k
	}
	soft := 1 - math.Tanh(b)*math.Tanh(b)
	return 20 * math.Log10(sum/amplitude/soft)
}

func TestTwoChannelsAreLaidTogetherByBoth(t *testing.T) {
	const rate = 24000.0
	left, right := newTune(1, 6, 0.5, 10), newTune(2, 6, 0.5, 10)
	take := func(shift float64) Take {
		return Take{Rate: rate, Channels: [][]float64{left.sampled(4*rate, -shift/rate, 1/rate), right.sampled(4*rate, -shift/rate, 1/rate)}}
	}
	r := compared(t, take(0), take(50.25), Options{})
	require.InDelta(t, 50.25, r.Alignment.Offset.Samples(rate), 0.01)
	require.Less(t, float64(r.Residual), -70.0)
}

func TestClippedTakesAreCompared(t *testing.T) {
	const rate = 24000.0
	x := newTune(1, 6, 0.5, 10).sampled(4*rate, 0, 1/rate)
	clipped := times(x, 3)
	for i, v := range clipped {
		clipped[i] = math.Max(-1, math.Min(1, v))
	}
	r := compared(t, mono(rate, x), mono(rate, clipped), Options{})
	require.InDelta(t, 0, r.Alignment.Offset.Samples(rate), 0.1)
	require.Contains(t, r.Warnings[0].What, "take B is clipped")
}

// What is claimed: two takes of a minute within three seconds.
func BenchmarkTwoMinutes(b *testing.B) {
	const rate = 48000.0
	dry := hissed(newTune(11, 80, 0.7, 8).sampled(60*rate, 0, 1/rate), 1e-5, 1)
	x := plain{heads: []head{{5000, 0.7}, {11000, 0.9}}, loop: 0.5, pole: 0.6}.play(dry, 1)
	y := plain{heads: []head{{5040, 0.7}, {11010, 0.8}}, loop: 0.45, pole: 0.5}.play(dry, 1)
	began := time.Now()
	for b.Loop() {
		_, err := Takes(mono(rate, x), mono(rate, y), Options{})
		require.NoError(b, err)
	}
	b.ReportMetric(time.Since(began).Seconds()/float64(b.N), "s/compare")
	b.ReportMetric(3, "s-limit")
}
