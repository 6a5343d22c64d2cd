package levelsteps

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/signals"
)

// The sine through tanh, by integration of its Fourier series: the fundamental,
// H3/H1 in percent, at amplitudes 0.5, 1 and 2; and H2 = 0 for want of bias.
func TestTheModelAgainstTheSeriesOfTanh(t *testing.T) {
	for _, c := range []struct{ a, first, third float64 }{{0.5, 0, 1.9612}, {1, 0.811676, 6.6832}, {2, 1.117942, 16.8830}} {
		first, others := answer(preset.Drive{}, c.a)
		if c.first > 0 {
			require.InDelta(t, c.first, first, 1e-6)
		}
		require.InDelta(t, c.third, 100*others[1], 1e-4)
		require.InDelta(t, 0, others[0], 1e-12)
	}
	_, others := answer(preset.Drive{}, 2)
	require.InDelta(t, 17.3407, 100*math.Hypot(others[1], others[3]), 0.05, "THD of orders to 5; the table's has them all")
	_, up := answer(preset.Drive{Bias: 0.4}, 1)
	_, down := answer(preset.Drive{Bias: -0.4}, 1)
	require.Greater(t, up[0], 0.01, "the upper half is the flatter one")
	require.InDelta(t, -up[0], down[0], 1e-12)
	require.InDelta(t, up[1], down[1], 1e-12)
}

// The 1 dB points are those of the textbook curves: tanh 0.712697, hard clip at
// 1 1.259542 (2.0043 dB over the clip), x − x³/3 0.659542 of full scale. Between
// steps of 2 dB a straight line is off by 0.1 dB.
func TestCompressionPoints(t *testing.T) {
	clip := func(at float64) func(float64) float64 {
		return func(x float64) float64 { return math.Max(-at, math.Min(at, x)) }
	}
	for _, c := range []struct {
		name string
		bend func(float64) float64
		want float64
	}{
		{"tanh", tanh(1, 0), 0.712697},
		{"tanh, four times as hard", tanh(4, 0), 0.712697 / 4},
		{"cubic", func(x float64) float64 { return x - x*x*x/3 }, 0.659542},
		{"hard clip", clip(0.5), 1.259542 / 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := usual()
			m.bend = c.bend
			r, err := Measure(m.take(loud()), loud(), Options{})
			require.NoError(t, err)
			require.NotNil(t, r.OneDB)
			require.InDelta(t, 20*math.Log10(c.want), float64(*r.OneDB), 0.1)
			require.InDelta(t, 20*math.Log10(0.7), float64(r.Gain), 0.05)
			require.Equal(t, DirectSound, r.From)
			require.InDelta(t, 121, float64(r.Delay), 2)
		})
	}
}

func TestStepsOfTanh(t *testing.T) {
	for _, two := range []bool{false, true} {
		m := usual()
		m.two = two
		if two {
			m.direct = 0
		}
		r, err := Measure(m.take(loud()), loud(), Options{})
		require.NoError(t, err)
		require.Len(t, r.Steps, 16)
		for k, s := range r.Steps {
			require.InDelta(t, -2*float64(15-k), float64(s.In), 1e-3)
			first, others := answer(preset.Drive{}, s.In.Amplitude())
			require.InDelta(t, 20*math.Log10(0.7*first), float64(s.Out), 1e-3)
			for n, o := range others {
				require.InDelta(t, 100*math.Abs(o), float64(s.Harmonics[n]), 1e-3)
			}
			require.InDelta(t, s.Above, s.Below, 1e-6)
		}
		last := r.Steps[15]
		require.InDelta(t, 6.6832, float64(last.Harmonics[1]), 1e-3, "tanh at full scale, by its series")
		require.InDelta(t, 0, float64(r.AboveToBelow), 1e-4)
		require.Less(t, float64(r.EvenToOdd), -60.0)
		require.Empty(t, r.Warnings)
		require.Equal(t, map[bool]Source{true: DryChannel, false: DirectSound}[two], r.From)
	}
}

func TestTheDriveComesBack(t *testing.T) {
	for _, c := range []struct {
		name string
		k, b float64
		make func(m *machine, o *Options)
	}{
		{"plain", 2, 0, func(*machine, *Options) {}},
		{"with bias", 2, 0.3, func(*machine, *Options) {}},
		{"with bias downwards", 1.5, -0.5, func(*machine, *Options) {}},
		{"by a head that turns the sound over", 2, 0.3, func(m *machine, o *Options) { m.gain, o.Inverted = -0.7, true }},
		{"two channels, and noise", 2, 0.3, func(m *machine, o *Options) { m.two, m.direct, m.noise = true, 0, 3e-4 }},
		{"a dull head", 2, 0.3, func(m *machine, o *Options) { m.high, o.Tone.HighCut = 2500, 2500 }},
		{"hard", 8, 0.2, func(*machine, *Options) {}},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, o := usual(), Options{}
			m.bend = tanh(c.k, c.b)
			c.make(&m, &o)
			r, err := Measure(m.take(loud()), loud(), o)
			require.NoError(t, err)
			require.NotNil(t, r.Drive)
			// The machine is of the model's kind, so that the fit ends at its figures;
			// the low-pass is one by steps, and turns the phase of the even harmonic.
			require.InDelta(t, 20*math.Log10(c.k), float64(r.Drive.Gain), 0.15)
			require.InDelta(t, c.b, r.Drive.Bias, 0.02)
			require.Less(t, float64(r.Fit.Level), 0.05)
			// Every step is believed to 0.1 dB: sixteen of them tell the drive to less.
			require.Positive(t, r.Fit.GainSD)
			require.Less(t, float64(r.Fit.GainSD), 0.5)
			require.Positive(t, r.Fit.BiasSD)
			require.Less(t, r.Fit.BiasSD, 0.05)
			soft := math.Abs(m.gain) * preset.Tone{HighCut: preset.Hertz(m.high)}.Magnitude(400)
			require.InDelta(t, 20*math.Log10(soft), float64(r.Gain), 0.05, "and with it the gain for soft sounds")
			require.Less(t, float64(r.Fit.Harmonics), 0.3)
			require.Equal(t, c.b > 0, r.Drive.Bias > 0.01)
			if math.Abs(c.b) > 0 {
				require.Equal(t, c.b < 0, r.AboveToBelow > 0, "a bias upwards leaves less room above")
			}
			u := preset.Unit{Name: "u", Kind: preset.Tape, Heads: []preset.Head{{Head: 1, Delay: 121}}, Drive: r.Drive}
			require.NoError(t, u.Validate())
		})
	}
}

func TestAnotherCurveIsFittedWorseAndSaysSo(t *testing.T) {
	m := usual()
	m.bend = func(x float64) float64 { return math.Max(-0.3, math.Min(0.3, x)) }
	r, err := Measure(m.take(loud()), loud(), Options{})
	require.NoError(t, err)
	require.NotNil(t, r.Drive)
	require.Greater(t, float64(r.Fit.Level), 0.2)
	require.Greater(t, float64(r.Fit.Harmonics), 0.5)
}

func TestWarnings(t *testing.T) {
	linear := func(x float64) float64 { return x }
	for _, c := range []struct {
		name  string
		make  func(m *machine, s *signals.Signal)
		want  string
		drive bool
	}{
		{"not driven", func(m *machine, _ *signals.Signal) { m.bend = linear }, "show no drive", false},
		{"the wet sound alone", func(m *machine, _ *signals.Signal) { m.direct = 0 }, "that of the signal's file", true},
		{"two heads and no direct sound", func(m *machine, _ *signals.Signal) { m.direct, m.delays = 0, []float64{121, 263} },
			"it may be an echo", false},
		{"clipped by the recorder", func(m *machine, _ *signals.Signal) {
			m.recorder = func(x float64) float64 { return math.Max(-0.95, math.Min(0.95, x)) }
		}, "clipped in", true},
		{"distorted before", func(m *machine, _ *signals.Signal) { m.recorder = tanh(1.2, 0) }, "before it reaches the machine", false},
		{"noise", func(m *machine, s *signals.Signal) { m.noise, s.Steps.Gap = 0.15, 1000 }, "drown in noise", true},
		{"too hard from the start", func(m *machine, s *signals.Signal) { s.Steps.Count, m.bend = 8, tanh(20, 0) }, "even the softest", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, s := usual(), loud()
			c.make(&m, &s)
			r, err := Measure(m.take(s), s, Options{})
			require.NoError(t, err)
			require.True(t, told(r, c.want), "%v", r.Warnings)
			require.Equal(t, c.drive, r.Drive != nil)
		})
	}
}

func TestBurstsThatRunIntoTheirEchoes(t *testing.T) {
	// In two channels, one head alone may be nearer than the 100 ms of a burst.
	near := usual()
	near.delays = []float64{60}
	near.two, near.direct = true, 0
	r, err := Measure(near.take(loud()), loud(), Options{})
	require.NoError(t, err)
	require.InDelta(t, 60, float64(r.Delay), 2)
	require.InDelta(t, 6.6832, float64(r.Steps[15].Harmonics[1]), 0.01)

	// In one channel the echo is then never heard by itself.
	near.two, near.direct, near.delays = false, 1, []float64{30}
	_, err = Measure(near.take(loud()), loud(), Options{})
	require.ErrorContains(t, err, "shorter than the first head's delay")

	near.two, near.direct = true, 0
	crowd := near
	crowd.delays = []float64{60, 75}
	_, err = Measure(crowd.take(loud()), loud(), Options{})
	var refusal *signals.Refusal
	require.ErrorAs(t, err, &refusal, "two heads, two signs of a comb")
	require.ErrorContains(t, err, "leave one head on")
}

func TestRefusals(t *testing.T) {
	s := loud()
	take := usual().take(s)
	other := s
	other.Steps = &signals.Steps{Frequency: 1000, Count: 16, Step: 2, Burst: 100, Gap: 300}
	noNumber := measure.Take{Rate: s.Rate, Samples: append([]float64{math.NaN()}, take.Samples...)}
	noise := machine{bend: math.Tanh, noise: 0.1}.take(s)
	var refusal *signals.Refusal
	for _, c := range []struct {
		name string
		take measure.Take
		s    signals.Signal
		want string
	}{
		{"silence", measure.Take{Rate: s.Rate, Samples: make([]float64, len(take.Samples))}, s, "does not hold 16 bursts"},
		{"nothing", measure.Take{Rate: s.Rate}, s, "record the whole signal"},
		{"noise", noise, s, "does not hold 16 bursts"},
		{"half of it", measure.Take{Rate: s.Rate, Samples: take.Samples[:len(take.Samples)/2]}, s, "record the whole signal"},
		{"bursts of another frequency", take, other, "does not hold 16 bursts of 1000 Hz"},
		{"a dry channel without them", measure.Take{Rate: s.Rate, Samples: take.Samples, Dry: make([]float64, len(take.Samples))}, s, "dry channel"},
		{"no number", noNumber, s, "sample 0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Measure(c.take, c.s, Options{})
			require.ErrorAs(t, err, &refusal)
			require.ErrorContains(t, err, c.want)
		})
	}
	brief := s
	brief.Steps = &signals.Steps{Frequency: 50, Count: 16, Step: 2, Burst: 100, Gap: 300}
	for _, c := range []struct {
		take measure.Take
		s    signals.Signal
		want string
	}{
		{measure.Take{Rate: 44_100, Samples: take.Samples}, s, "record at the signal's rate"},
		{take, signals.Default(signals.KindTone), "where steps is wanted"},
		{take, signals.Signal{}, "the signal: rate_hz"},
		{take, brief, "bursts of 5.0 periods"},
		{measure.Take{Rate: s.Rate, Samples: take.Samples, Dry: take.Samples[1:]}, s, "one length"},
	} {
		_, err := Measure(c.take, c.s, Options{})
		require.ErrorContains(t, err, c.want)
		require.NotErrorAs(t, err, &refusal)
	}
}

func BenchmarkMeasure(b *testing.B) {
	s := signals.Default(signals.KindSteps)
	m := usual()
	m.bend = tanh(20, 0.3)
	take := m.take(s)
	for b.Loop() {
		_, err := Measure(take, s, Options{})
		require.NoError(b, err)
	}
	b.ReportMetric(float64(len(take.Samples))/float64(s.Rate)*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
}
