package steadytone

import (
	"errors"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/signals"
)

// A sine of peak deviation p reads p times the weight of its rate: 0.1 % at 4 Hz
// is the reference, at 0.8 Hz 0.0501 %, at 20 Hz 0.0507 % (table of AES6-2008).
// The filter meets the table within 0.35 dB, which is 4.1 %. Unweighted it reads
// p, its RMS is p/√2 and 95 % of the time it lies below sin(0.95·90°) = 0.99692
// of its peak; 0.5 % holds the rest: the stretches' ends and classes of sizes.
func TestWeightedFiguresOfSines(t *testing.T) {
	for _, c := range []struct{ hz, weighted float64 }{{4, 0.1}, {0.8, 0.0501}, {20, 0.0507}, {2, 0.0902}, {100.3, 0.01365}} {
		r := machine(waver{0.1, c.hz}).measure(t, usual)
		require.InEpsilon(t, c.weighted, float64(r.Weighted.Peak), 0.045, "%v Hz", c.hz)
		require.InEpsilon(t, 0.99692*float64(r.Weighted.Peak), float64(r.Weighted.TwoSigma), 0.005, "%v Hz", c.hz)
		require.InEpsilon(t, float64(r.Weighted.Peak)/math.Sqrt2, float64(r.Weighted.RMS), 0.005, "%v Hz", c.hz)
		require.InEpsilon(t, 0.1, float64(r.Unweighted.Peak), 0.01, "%v Hz", c.hz)
		require.InEpsilon(t, 0.1/math.Sqrt2, float64(r.Unweighted.RMS), 0.01, "%v Hz", c.hz)
		require.Len(t, r.Rates, 1)
		require.InDelta(t, c.hz, float64(r.Rates[0].Hz), 0.005)
		require.InEpsilon(t, 0.1, float64(r.Rates[0].Peak), 0.01, "%v Hz", c.hz)
		require.InDelta(t, 1, r.SpeedRatio, 1e-6)
		require.InDelta(t, -20, float64(r.Level), 0.01, "%v Hz", c.hz)
		require.Empty(t, r.Warnings)
	}
	// At the reference the filter is exact by its normalisation.
	r := machine(waver{0.1, 4}).measure(t, usual)
	require.InEpsilon(t, 0.1, float64(r.Weighted.Peak), 0.002)
}

func TestMixedWaversComeApart(t *testing.T) {
	tape := machine(waver{0.15, 0.9}, waver{0.06, 1.8}, waver{0.04, 7.3}, waver{0.02, 50})
	tape.noise, tape.lead, tape.tail = 1e-4, 1.3, 2
	r := tape.measure(t, usual)
	require.Len(t, r.Rates, 4)
	for i, want := range []struct {
		waver
		cause string
	}{
		{waver{0.15, 0.9}, "0.9 Hz: once per turn of something that turns 54 times a minute"},
		{waver{0.06, 1.8}, "1.8 Hz: 2 times per turn of what causes 0.9 Hz"},
		{waver{0.04, 7.3}, "7.3 Hz: once per turn of something that turns 438 times a minute"},
		{waver{0.02, 50}, "50 Hz: the mains, by hum in the take or by the motor"},
	} {
		require.InDelta(t, want.hz, float64(r.Rates[i].Hz), 0.01)
		require.InEpsilon(t, want.percent, float64(r.Rates[i].Peak), 0.05, "a noise of 57 dB below the tone is in it")
		require.Equal(t, want.cause, r.Rates[i].Cause)
	}
	require.InEpsilon(t, 0.15, float64(r.Motion.WowPercent), 0.02)
	require.InDelta(t, 0.9, float64(r.Motion.WowHz), 0.01)
	require.InEpsilon(t, 0.04, float64(r.Motion.FlutterPercent), 0.03)
	require.InDelta(t, 7.3, float64(r.Motion.FlutterHz), 0.01)
	require.InDelta(t, 25, r.Measured, 0.5, "silence before and after is left out")
	u := preset.Unit{Name: "u", Kind: preset.Tape, Heads: []preset.Head{{Head: 1, Delay: 100}}, Motion: &r.Motion}
	require.NoError(t, u.Validate())
}

func TestSpeed(t *testing.T) {
	// 3,150 Hz taken for 3,000 Hz looks 5.00 % fast (3150/3000).
	r := machine().measure(t, Options{Rate: 48_000, Nominal: 3000})
	require.InDelta(t, 1.05, r.SpeedRatio, 1e-6)
	require.True(t, has(r, "if it was made with 3150 Hz"), r.Warnings)

	for _, rate := range []float64{8000, 11_025, 44_100, 96_000, 192_000} {
		slow := machine(waver{0.2, 3})
		slow.rate, slow.tone, slow.seconds = rate, 3150*0.985, 12
		r := slow.measure(t, Options{Rate: preset.Hertz(rate), Nominal: 3150})
		require.InDelta(t, 0.985, r.SpeedRatio, 2e-5, "%v Hz", rate)
		require.InEpsilon(t, 0.2, float64(r.Unweighted.Peak), 0.01, "%v Hz", rate)
		require.InEpsilon(t, 0.2, float64(r.Rates[0].Peak), 0.01)
	}
}

// One pass by a head τ later shows 2·|sin(π·f·τ)| of a wavering: at 250 ms
// 1.4142 of one at 1 Hz, twice that of 2 Hz, nothing of 4 Hz.
func TestOnePassThroughAHead(t *testing.T) {
	for _, c := range []struct{ hz, shown float64 }{{1, 1.4142}, {2, 2}} {
		pass := machine(waver{0.1, c.hz})
		pass.through = 0.25
		r := pass.measure(t, Options{Rate: 48_000, Nominal: 3150, Through: 250})
		require.InEpsilon(t, 0.1*c.shown, float64(r.Rates[0].Peak), 0.01, "%v Hz", c.hz)
		require.InEpsilon(t, 0.1, float64(r.Rates[0].Carrier), 0.01, "%v Hz", c.hz)
		require.InEpsilon(t, 0.1, float64(r.Motion.WowPercent), 0.01, "%v Hz", c.hz)
		require.Zero(t, r.Motion.SpeedRatio, "its own speed is what a machine cannot hear of itself")
	}
	hidden := machine(waver{0.1, 4.1})
	hidden.through = 0.25
	r := hidden.measure(t, Options{Rate: 48_000, Nominal: 3150, Through: 250})
	require.Zero(t, r.Rates[0].Carrier)
	require.True(t, has(r, "measure through another head too"))
}

func TestNoiseAlone(t *testing.T) {
	quiet := machine()
	quiet.noise = 1e-3 // 37 dB below the tone
	r := quiet.measure(t, usual)
	require.Empty(t, r.Rates, "a rate is not made of noise")
	require.Zero(t, r.Motion.WowPercent)
	// 2 sigma of Gaussian noise at 5 % is 1.960 of its RMS.
	require.InEpsilon(t, 1.960, float64(r.Weighted.TwoSigma/r.Weighted.RMS), 0.05)
}

func TestWarnings(t *testing.T) {
	clipped := machine()
	clipped.amplitude = 2
	m, err := New(usual)
	require.NoError(t, err)
	for n := 0; n < 8*48_000; n += 4800 {
		block := make([]float64, 4800)
		for i := range block {
			block[i] = math.Max(-1, math.Min(1, clipped.at(n+i)))
		}
		block[7] = math.NaN()
		m.Add(block)
	}
	r, err := m.Result()
	require.NoError(t, err)
	require.True(t, has(r, "clipped in"))
	require.True(t, has(r, "80 samples are no numbers"), r.Warnings)
	require.InDelta(t, 1, r.SpeedRatio, 1e-4)

	faint := machine()
	faint.amplitude, faint.seconds = 5e-4, 6
	r = faint.measure(t, usual)
	require.True(t, has(r, "only -66 dBFS"), r.Warnings)
	require.True(t, has(r, "AES6 asks for 5 s"), r.Warnings)
}

func TestDropoutsAndBeatsAreTold(t *testing.T) {
	whole := machine(waver{0.1, 2})
	m, err := New(usual)
	require.NoError(t, err)
	for n := 0; n < 25*48_000; n += 480 {
		block := make([]float64, 480)
		for i := range block {
			block[i] = whole.at(n + i)
		}
		if n == 9*48_000 || n == 13*48_000 {
			clear(block)
		}
		m.Add(block)
	}
	r, err := m.Result()
	require.NoError(t, err)
	require.True(t, has(r, "dropped out 2 times"), r.Warnings)
	require.InEpsilon(t, 0.1, float64(r.Unweighted.Peak), 0.05)
	require.InEpsilon(t, 0.0902, float64(r.Weighted.Peak), 0.05, "0.9016 at 2 Hz (AES6-2008)")

	mixed, other := machine(waver{0.3, 0.7}), machine()
	m, err = New(usual)
	require.NoError(t, err)
	block := make([]float64, 12*48_000)
	for i := range block {
		block[i] = mixed.at(i) + 0.4*other.at(i)
	}
	m.Add(block)
	r, err = m.Result()
	require.NoError(t, err)
	require.True(t, has(r, "turn the direct sound"), r.Warnings)
}

func TestRefusals(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		name    string
		seconds float64
		sound   func(time float64) float64
		want    string
	}{
		{"nothing at all", 0, nil, "only 0.0 s"},
		{"less than a second", 0.5, func(t float64) float64 { return math.Sin(19_792 * t) }, "only 0.5 s"},
		{"three seconds", 3, func(t float64) float64 { return math.Sin(19_792 * t) }, "record ten seconds"},
		{"silence", 5, func(float64) float64 { return 0 }, "the take is silent"},
		{"noise", 5, func(float64) float64 { return 0.1 * random.NormFloat64() }, "no steady tone near 3150 Hz"},
		{"another tone", 5, func(t float64) float64 { return 0.1 * math.Sin(2*math.Pi*440*t) }, "name the frequency"},
		{"two tones", 5, func(t float64) float64 { return 0.1 * (math.Sin(19_792*t) + math.Sin(13_000*t)) }, "no steady tone"},
		{"clicks", 5, func(t float64) float64 { return math.Floor(math.Mod(t, 0.01) * 100.5) }, "no steady tone"},
		{"no numbers", 5, func(float64) float64 { return math.Inf(1) }, "the take is silent"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, err := New(usual)
			require.NoError(t, err)
			for n := range int(c.seconds * 48_000) {
				m.Add([]float64{c.sound(float64(n) / 48_000)})
			}
			_, err = m.Result()
			var refusal *signals.Refusal
			require.True(t, errors.As(err, &refusal), "%v", err)
			require.ErrorContains(t, err, c.want)
		})
	}
}

func TestWrongOptions(t *testing.T) {
	nan := preset.Hertz(math.NaN())
	for _, o := range []Options{
		{}, {Rate: 48_000}, {Rate: nan, Nominal: 3150}, {Rate: 48_000, Nominal: nan}, {Rate: 8000, Nominal: 3800},
		{Rate: 48_000, Nominal: 100}, {Rate: 48_000, Nominal: 3150, Through: -1}, {Rate: 48_000, Nominal: 3150, Through: preset.Millis(nan)},
	} {
		_, err := New(o)
		require.Error(t, err, "%+v", o)
	}
}

// Whatever comes in, a meter answers with figures that are numbers, or refuses.
func FuzzMeter(f *testing.F) {
	f.Add(uint64(1), 0.1, 0.0, 1000)
	f.Add(uint64(2), 1e300, 0.5, 1)
	f.Add(uint64(3), math.Inf(1), 3.0, 48_000)
	f.Fuzz(func(t *testing.T, seed uint64, amplitude, noise float64, size int) {
		random := rand.New(rand.NewPCG(seed, 1))
		m, err := New(Options{Rate: 8000, Nominal: 1000})
		require.NoError(t, err)
		block := make([]float64, 1+(size&0xffff))
		for n := 0; n < 50_000; n += len(block) {
			for i := range block {
				block[i] = amplitude*math.Sin(float64(n+i)*math.Pi/4) + noise*random.NormFloat64()
			}
			m.Add(block)
		}
		r, err := m.Result()
		if err != nil {
			return
		}
		for _, v := range []float64{r.SpeedRatio, float64(r.Weighted.Peak), float64(r.Weighted.TwoSigma), float64(r.Unweighted.RMS), float64(r.Level)} {
			require.False(t, math.IsNaN(v) || math.IsInf(v, 0))
		}
	})
}

// Ten minutes of tone, and then as long again: the memory stays the same.
func BenchmarkTenMinutes(b *testing.B) {
	second := make([]float64, 48_000)
	whole := machine(waver{0.1, 2}) // two whole turns a second: it can be repeated
	whole.seconds = 2
	for i := range second {
		second[i] = whole.at(i + 48_000)
	}
	var before, after runtime.MemStats
	for b.Loop() {
		m, err := New(usual)
		require.NoError(b, err)
		for n := range 600 {
			m.Add(second)
			if n == 60 {
				runtime.GC()
				runtime.ReadMemStats(&before)
			}
		}
		runtime.GC()
		runtime.ReadMemStats(&after)
		_, err = m.Result()
		require.NoError(b, err)
	}
	b.ReportMetric(600*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
	b.ReportMetric((float64(after.HeapAlloc)-float64(before.HeapAlloc))/1e6, "MB-more-after-the-tenth-minute")
}

func TestTheSilenceAfterTheToneIsNoDropout(t *testing.T) {
	tone := machine(waver{0.1, 2})
	tone.lead, tone.tail, tone.noise = 1, 3, 1e-5
	r := tone.measure(t, usual)
	require.False(t, has(r, "dropped out"), r.Warnings)
	require.InEpsilon(t, 0.1, float64(r.Unweighted.Peak), 0.05)
}
