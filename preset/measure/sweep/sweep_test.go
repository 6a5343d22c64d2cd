package sweep

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/measure/response"
	"echowright/preset/signals"
)

func told(r Result, words string) bool {
	for _, w := range r.Warnings {
		if strings.Contains(w.String(), words) {
			return true
		}
	}
	return false
}

// What the machine was made with comes back: delays within 0.005 ms and levels
// within 0.05 dB, which is what one asks of two channels without motion; corner
// frequencies within 3 %, as a gate of 100 ms and less tells them.
func TestHeadsComeBackAsTheyWereMade(t *testing.T) {
	for _, c := range []struct {
		name string
		make func(m *machine)
	}{
		{"direct sound and echoes mixed", func(*machine) {}},
		{"two channels", func(m *machine) { m.twoChannels = true }},
		{"a head turned over", func(m *machine) { m.inverted = 2 }},
		{"some noise", func(m *machine) { m.noise = 1e-4 }},
		{"repeats", func(m *machine) { m.loop, m.secondsOfTail = 0.3, 1 }},
		{"the wet sound louder than the direct", func(m *machine) { m.direct = 0.3 }},
		{"driven", func(m *machine) { m.square, m.cube = 0.3, -1 }},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := usual()
			c.make(&m)
			r, err := Measure(m.take(short()), short(), []int{2, 4, 6})
			require.NoError(t, err)
			require.Len(t, r.Heads, 3)
			loudest := level(m, 1)
			for k, h := range r.Heads {
				made := m.heads[k]
				require.Equal(t, 2+2*k, h.Head)
				require.InDelta(t, made.ms, float64(h.Delay), 0.005)
				require.InDelta(t, level(m, k)-loudest, float64(h.Level), 0.05)
				require.Equal(t, k+1 == m.inverted, h.Inverted)
				require.InEpsilon(t, made.high, float64(h.HighCutHz), 0.03)
				require.InEpsilon(t, made.low, float64(h.LowCutHz), 0.08)
				require.Less(t, float64(h.DelaySD), 0.02)
			}
			require.False(t, told(r, "counted from an echo"))
			direct := m.direct
			if m.twoChannels {
				direct = 1
			}
			require.InDelta(t, loudest-20*math.Log10(direct), float64(r.Direct.EchoToDirect), 0.06)
			require.Equal(t, m.loop > 0, len(r.Later) > 0)
			require.NoError(t, preset.Unit{Name: "u", Kind: preset.Drum, Heads: r.Heads, Direct: &r.Direct}.Validate())
		})
	}
}

// level of a head at 1 kHz. The drive's own share (3/4·cube·A² with A = 0.1) is
// part of the level at which the sweep was played.
func level(m machine, k int) float64 {
	f := 1000.0
	h := m.heads[k]
	v := h.answer(f)
	return 10*math.Log10(real(v)*real(v)+imag(v)*imag(v)) + 20*math.Log10(1+0.75*m.cube*0.01)
}

func TestCurves(t *testing.T) {
	m := usual()
	r, err := Measure(m.take(short()), short(), []int{2, 4, 6})
	require.NoError(t, err)
	for k, w := range r.Ways {
		require.Greater(t, len(w.Curve), 60, "five octaves and more")
		delays := 0
		for _, p := range w.Curve {
			v := m.heads[k].answer(float64(p.Hz))
			want := 10 * math.Log10(real(v)*real(v)+imag(v)*imag(v))
			near := 0.2 // dB; the lowest octave rings longer than the gates are open
			if p.Hz < 80 {
				near = 1
			}
			require.InDelta(t, want, float64(p.Level), near, "head %d at %v", k, p.Hz)
			if p.Delay == 0 {
				continue
			}
			delays++
			// The delay of the group by the slope of the phase, from the formula of
			// the cuts: (1/2π)·(low/(f²+low²) + high/(f²+high²)).
			f, low, high := float64(p.Hz), m.heads[k].low, m.heads[k].high
			group := m.heads[k].ms + 1000/(2*math.Pi)*(low/(f*f+low*low)+high/(f*f+high*high))
			require.InDelta(t, group, float64(p.Delay), 0.02, "head %d at %v", k, p.Hz)
		}
		require.GreaterOrEqual(t, delays, 36, "300 Hz to 3 kHz in twelfths of an octave")
		require.Less(t, w.PhaseRMS, 0.05)
		require.Less(t, float64(w.Misfit), 0.15)
	}
}

// Of y = x + a·x² + b·x³ a sine of amplitude A has the harmonics a·A²/2 and
// b·A³/4 beside A + 3/4·b·A³; behind the record path the head's tone weakens
// them. A is 0.1 of full scale, −20 dBFS.
func TestHarmonicsByOrder(t *testing.T) {
	m := usual()
	m.square, m.cube = 0.8, -3
	m.heads = m.heads[:2]
	r, err := Measure(m.take(short()), short(), []int{1, 2})
	require.NoError(t, err)
	require.Len(t, r.Harmonics, 2*4)
	const a = 0.1
	first := a + 0.75*m.cube*a*a*a
	for _, d := range r.Harmonics {
		if d.Order > 3 {
			for _, h := range d.Curve {
				require.Less(t, float64(h.Level), -65.0, "order %d is not there", d.Order)
			}
			continue
		}
		size := map[int]float64{2: m.square * a * a / 2, 3: -m.cube * a * a * a / 4}[d.Order]
		for _, f := range []preset.Hertz{250, 500, 1000, 2000} {
			got, ok := d.At(f)
			require.True(t, ok, "order %d at %v", d.Order, f)
			tone := preset.Tone{LowCut: preset.Hertz(m.heads[d.Way].low), HighCut: preset.Hertz(m.heads[d.Way].high)}
			want := 20 * math.Log10(size/first*tone.Magnitude(f*preset.Hertz(d.Order))/tone.Magnitude(f))
			require.InDelta(t, want, float64(got), 0.3, "way %d order %d at %v", d.Way, d.Order, f)
		}
	}
	_, ok := r.Harmonics[0].At(15_000)
	require.False(t, ok)
}

// The response of harmonic n stands L·ln n before the linear one. A machine that
// only doubles shows it (Farina 2000); a sample of time is 0.02 ms.
func TestWhereTheHarmonicsStand(t *testing.T) {
	s := short()
	x := s.Samples()
	for n := 2; n <= 3; n++ {
		y := make([]float64, len(x))
		for i, v := range x {
			u := v / s.Peak()
			y[i] = v + 0.3*s.Peak()*[]float64{2*u*u - 1, 4*u*u*u - 3*u}[n-2] // Chebyshev: cos(nφ)
		}
		for i := range int(s.Lead.Samples(s.Rate)) {
			y[i] = 0
		}
		h := Undo(measure.Take{Rate: s.Rate, Samples: y}, s).Wet
		linear := greatest(h, 0, len(h))
		ahead := s.Sweep.Ahead(n).Samples(s.Rate)
		other := greatest(h, linear-int(ahead)-500, linear-int(ahead)+500)
		require.InDelta(t, ahead, float64(linear-other), 1.5, "order %d", n)
	}
}

func greatest(h []float64, from, to int) int {
	at := from
	for i := from; i < to; i++ {
		if math.Abs(h[i]) > math.Abs(h[at]) {
			at = i
		}
	}
	return at
}

// A plain wire has the response 1: within the band, an octave from its ends, the
// analytic filter is exact within 0.1 dB. It falls by 20·log10(To/From) from its
// start to its end: 60.000 dB over three decades.
func TestInverseFilter(t *testing.T) {
	s := short()
	trace := Undo(measure.Take{Rate: s.Rate, Samples: s.Samples()}, s)
	at := greatest(trace.Wet, 0, len(trace.Wet))
	wire := response.Gate{At: at, Before: 2400, After: 2400}.Spectrum(trace.Wet, s.Rate)
	for f := preset.Hertz(80); f < 5000; f *= 1.3 {
		require.InDelta(t, 0, float64(preset.FromAmplitude(wire.Magnitude(f, 1.0/12))), 0.1, "at %v", f)
	}
	wide := signals.Default(signals.KindSweep)
	wide.Sweep.Seconds, wide.Sweep.FadeIn, wide.Sweep.FadeOut = 10, 0, 0
	v := inverse(wide)
	x := wide.Samples()[24_000:][:len(v)] // without the lead of 500 ms
	first, last := v[5]/x[len(v)-6], v[len(v)-6]/x[5]
	require.InDelta(t, 60, 20*math.Log10(first/last), 0.01)
}

// wavering is a head at 263 ms, turned over, of a machine whose wow of the given
// percent at 0.7 Hz moves its delay by wow·|sin(π·0.7·0.263)|/(π·0.7) to each side
// while the sweep passes; with the direct sound.
func wavering(s signals.Signal, percent float64) measure.Take {
	rate, start, l := float64(s.Rate), s.Lead.Seconds(), s.Sweep.TimeConstant()
	moves := percent / 100 * math.Sin(math.Pi*0.7*0.263) / (math.Pi * 0.7)
	x := s.Samples()
	for i := range x {
		time := float64(i)/rate - 0.263 - moves*math.Sin(2*math.Pi*0.7*float64(i)/rate) - start
		if time > 0 && time < s.Sweep.Seconds {
			x[i] -= 0.7 * s.Peak() * math.Sin(2*math.Pi*float64(s.Sweep.From)*l*(math.Exp(time/l)-1))
		}
	}
	return measure.Take{Rate: s.Rate, Samples: x}
}

// 0.15 % move the delay by 0.37 ms to each side, a turn of the phase and more at
// 3 kHz; the sweep sees two turns of the wow, over which 0.1 ms are left.
func TestWowIsToldAndAveraged(t *testing.T) {
	r, err := Measure(wavering(short(), 0.15), short(), []int{1})
	require.NoError(t, err)
	require.True(t, told(r, "smears the high frequencies"), r.Warnings)
	h := r.Heads[0]
	require.InDelta(t, 263, float64(h.Delay), 0.1)
	require.InDelta(t, 263, float64(h.Delay), 2*float64(h.DelaySD))
	require.InDelta(t, 20*math.Log10(0.7), float64(r.Direct.EchoToDirect), 0.2)
	require.True(t, h.Inverted)
	require.InDelta(t, 0.37/math.Sqrt2, float64(r.Ways[0].Wander), 0.1)
	for _, p := range r.Ways[0].Curve {
		require.Zero(t, p.Delay, "what wavers has no delay at a frequency")
	}

	long := short()
	long.Sweep.Seconds = 40
	_, err = Measure(wavering(long, 1.5), long, []int{1})
	var refusal *signals.Refusal
	require.ErrorAs(t, err, &refusal)
	require.ErrorContains(t, err, "use a shorter sweep, or clicks")
}

func TestAnEchoTakenForTheDirectSoundIsTold(t *testing.T) {
	m := usual()
	m.direct = 0
	r, err := Measure(m.take(short()), short(), []int{1, 2})
	require.NoError(t, err)
	require.True(t, told(r, "counted from an echo"), r.Warnings)
	require.InDelta(t, 263.02-121.37, float64(r.Heads[0].Delay), 0.05)
}

func TestATrainTooLongForTheSweepIsTold(t *testing.T) {
	m := usual()
	m.loop, m.secondsOfTail = 0.8, 2
	r, err := Measure(m.take(short()), short(), []int{2, 4, 6})
	require.NoError(t, err)
	require.True(t, told(r, "clear of their own distortion"), r.Warnings)

	// Two heads at twice the delay of each other, and repeats: it cannot be told
	// what is a head and what a repeat.
	m.heads = []head{{100, 0, 0, 3000}, {200, -2, 0, 3000}}
	r, err = Measure(m.take(short()), short(), []int{1, 2})
	require.NoError(t, err)
	require.True(t, told(r, "stands where a repeat of heads 1 and 1 would"), r.Warnings)
}

func TestRefusals(t *testing.T) {
	s := short()
	silence := make([]float64, s.Frames())
	noNumber := s.Samples()
	noNumber[77] = math.NaN()
	alone := machine{direct: 1}
	var refusal *signals.Refusal
	for _, c := range []struct {
		name string
		take measure.Take
		want string
	}{
		{"silence", measure.Take{Rate: s.Rate, Samples: silence}, "does not hold the signal"},
		{"too short", measure.Take{Rate: s.Rate, Samples: silence[:24_000]}, "the sweep alone 4.9 s"},
		{"not a number", measure.Take{Rate: s.Rate, Samples: noNumber}, "sample 77"},
		{"the signal alone", alone.take(s), "1 heads named, 0 echoes found"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Measure(c.take, s, []int{1})
			require.ErrorAs(t, err, &refusal)
			require.ErrorContains(t, err, c.want)
		})
	}
	take := usual().take(s)
	for _, c := range []struct {
		name  string
		take  measure.Take
		s     signals.Signal
		heads []int
		want  string
	}{
		{"another rate", measure.Take{Rate: 44_100, Samples: take.Samples}, s, []int{1}, "record at the signal's rate"},
		{"no sweep", take, signals.Default(signals.KindTone), []int{1}, "where sweep is wanted"},
		{"no signal", take, signals.Signal{}, []int{1}, "the signal: rate_hz"},
		{"no heads", take, s, nil, "name the heads"},
		{"a head twice", take, s, []int{2, 2}, "each once"},
		{"channels of two lengths", measure.Take{Rate: s.Rate, Samples: take.Samples, Dry: take.Samples[1:]}, s, []int{1}, "one length"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Measure(c.take, c.s, c.heads)
			require.ErrorContains(t, err, c.want)
			require.NotErrorAs(t, err, &refusal)
		})
	}
}

func BenchmarkMeasure(b *testing.B) {
	s := signals.Default(signals.KindSweep)
	take := usual().take(s)
	for b.Loop() {
		_, err := Measure(take, s, []int{2, 4, 6})
		require.NoError(b, err)
	}
	b.ReportMetric(float64(len(take.Samples))/float64(s.Rate)*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
}
