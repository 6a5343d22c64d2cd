package clicks

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/signals"
)

// machine answers each click by pulses at places between the samples, put
// together from the formula of the click: a sinc under a Hann window of four
// periods of the cut to each side.
type machine struct {
	delays, gains []float64 // ms, of full scale
	wow           float64   // ms that all delays wander, to each side, over the clicks
	direct        float64
	two           bool
	noise         float64
	late          float64 // s
}

func (m machine) take(s signals.Signal) measure.Take {
	rate, cut := float64(s.Rate), float64(s.Clicks.HighCut)
	n := s.Frames() + int((m.late+0.5)*rate)
	t := measure.Take{Rate: s.Rate, Samples: make([]float64, n)}
	if m.two {
		t.Dry = make([]float64, n)
	}
	put := func(x []float64, at, gain float64) {
		for i := int((at - 4/cut) * rate); float64(i) <= (at+4/cut)*rate; i++ {
			d := float64(i)/rate - at
			if i < 0 || i >= n || math.Abs(d) >= 4/cut {
				continue
			}
			v := math.Pow(math.Cos(math.Pi*d*cut/8), 2)
			if p := 2 * math.Pi * cut * d; p != 0 {
				v *= math.Sin(p) / p
			}
			x[i] += 0.1 * gain * v
		}
	}
	for k := range s.Clicks.Count {
		at := m.late + s.Lead.Seconds() + float64(k)*s.Clicks.Spacing.Seconds()
		if m.two {
			put(t.Dry, at, 1)
		} else {
			put(t.Samples, at, m.direct)
		}
		for j, d := range m.delays {
			put(t.Samples, at+(d+m.wow*math.Sin(float64(k)))/1000, m.gains[j])
		}
	}
	random := rand.New(rand.NewPCG(8, 8))
	for i := range t.Samples {
		t.Samples[i] += m.noise * random.NormFloat64()
	}
	return t
}

func short() signals.Signal {
	s := signals.Default(signals.KindClicks)
	s.Rate, s.Clicks.Count, s.Clicks.Spacing, s.Lead = 24_000, 12, 1200, 700
	return s
}

func usual() machine {
	return machine{delays: []float64{121.37, 263.02, 405.611}, gains: []float64{0.5, -0.9, 0.8}, direct: 1, late: 0.123}
}

// Delays within 0.005 ms and levels within 0.05 dB, as one asks of two channels
// without motion; with noise 50 dB below the clicks within 0.02 ms and 0.2 dB.
func TestHeadsComeBackAsTheyWereMade(t *testing.T) {
	for _, c := range []struct {
		name   string
		make   func(m *machine)
		ms, db float64
	}{
		{"mixed", func(*machine) {}, 0.005, 0.05},
		{"two channels", func(m *machine) { m.two = true }, 0.005, 0.05},
		{"a soft direct sound", func(m *machine) { m.direct = 0.3 }, 0.005, 0.05},
		{"noise", func(m *machine) { m.noise = 3e-4 }, 0.02, 0.2},
		{"begun before the take", func(m *machine) { m.late = -0.05 }, 0.005, 0.05},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := usual()
			c.make(&m)
			r, err := Measure(m.take(short()), short(), []int{2, 4, 6})
			require.NoError(t, err)
			require.Len(t, r.Heads, 3)
			for k, h := range r.Heads {
				require.InDelta(t, m.delays[k], float64(h.Delay), c.ms)
				require.InDelta(t, 20*math.Log10(math.Abs(m.gains[k])/0.9), float64(h.Level), c.db)
				require.Equal(t, m.gains[k] < 0, h.Inverted)
			}
			direct := m.direct
			if m.two {
				direct = 1
			}
			require.InDelta(t, 20*math.Log10(0.9/direct), float64(r.Direct.EchoToDirect), c.db)
			require.Empty(t, r.Warnings)
			require.NoError(t, preset.Unit{Name: "u", Kind: preset.Disc, Heads: r.Heads, Direct: &r.Direct}.Validate())
		})
	}
}

// A delay that wanders by 0.2 ms to each side would take 3.5 dB from the level
// at 1 kHz if the clicks were added as they lie (J₀(2π·0.2) = 0.67).
func TestAWanderingDelayTakesNothingFromTheLevel(t *testing.T) {
	m := usual()
	m.wow = 0.2
	r, err := Measure(m.take(short()), short(), []int{2, 4, 6})
	require.NoError(t, err)
	mean, square := 0.0, 0.0
	for k := range 12 {
		mean += 0.2 * math.Sin(float64(k)) / 12
		square += 0.04 * math.Pow(math.Sin(float64(k)), 2)
	}
	sd := math.Sqrt((square - 12*mean*mean) / 11)
	for k, w := range r.Ways {
		require.InDelta(t, sd, float64(w.Wander), 0.01)
		require.InDelta(t, 20*math.Log10(math.Abs(m.gains[k])), float64(w.Level), 0.1)
		require.InDelta(t, m.delays[k]+mean, float64(w.Delay), 0.02)
		require.GreaterOrEqual(t, float64(r.Heads[k].DelaySD), sd/math.Sqrt(12)-0.005)
	}
}

func TestFewClicksAreTold(t *testing.T) {
	s := short()
	s.Clicks.Count = 2
	r, err := Measure(usual().take(s), s, []int{2, 4, 6})
	require.NoError(t, err)
	require.Len(t, r.Warnings, 1)
	require.Contains(t, r.Warnings[0].String(), "use 4 or more")
}

func TestRefusals(t *testing.T) {
	s := short()
	take := usual().take(s)
	random := rand.New(rand.NewPCG(1, 1))
	noise := make([]float64, len(take.Samples))
	for i := range noise {
		noise[i] = random.NormFloat64()
	}
	alone := machine{direct: 1}.take(s)
	bad := append([]float64{math.Inf(1)}, take.Samples...)
	var refusal *signals.Refusal
	for _, c := range []struct {
		name string
		x    []float64
		want string
	}{
		{"silence", make([]float64, len(noise)), "does not hold the signal"},
		{"noise", noise, "does not hold the signal"},
		{"the clicks alone", alone.Samples, "1 heads named, 0 echoes found"},
		{"a moment", take.Samples[:48_000], "record the whole signal"},
		{"no number", bad, "sample 0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Measure(measure.Take{Rate: s.Rate, Samples: c.x}, s, []int{1})
			require.ErrorAs(t, err, &refusal)
			require.ErrorContains(t, err, c.want)
		})
	}
	for _, c := range []struct {
		take  measure.Take
		s     signals.Signal
		heads []int
		want  string
	}{
		{measure.Take{Rate: 44_100, Samples: take.Samples}, s, []int{1}, "record at the signal's rate"},
		{take, signals.Default(signals.KindTone), []int{1}, "where clicks is wanted"},
		{take, signals.Signal{}, []int{1}, "the signal: rate_hz"},
		{take, s, nil, "name the heads"},
		{measure.Take{Rate: s.Rate, Samples: take.Samples, Dry: take.Samples[1:]}, s, []int{1}, "one length"},
	} {
		_, err := Measure(c.take, c.s, c.heads)
		require.ErrorContains(t, err, c.want)
		require.NotErrorAs(t, err, &refusal)
	}
}

func BenchmarkMeasure(b *testing.B) {
	s := signals.Default(signals.KindClicks)
	take := usual().take(s)
	for b.Loop() {
		_, err := Measure(take, s, []int{2, 4, 6})
		require.NoError(b, err)
	}
	b.ReportMetric(float64(len(take.Samples))/float64(s.Rate)*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
}
