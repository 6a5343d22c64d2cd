package signals

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// The figures follow from L = T/ln(f2/f1) and L·ln n (A. Farina, AES 108th
// Convention, 2000, preprint 5093), to the six digits given.
func TestSweepConstants(t *testing.T) {
	for _, c := range []struct {
		sweep Sweep
		l     float64
		ahead [4]float64 // s, harmonics 2 to 5
	}{
		{Sweep{From: 20, To: 20_000, Seconds: 1}, 0.144764827, [4]float64{0.100343, 0.159040, 0.200687, 0.232990}},
		{Sweep{From: 20, To: 20_000, Seconds: 10}, 1.447648273, [4]float64{1.003433, 1.590404, 2.006867, 2.329900}},
		{Sweep{From: 50, To: 10_000, Seconds: 5}, 0.943695829, [4]float64{0.654120, 1.036756, 1.308240, 1.518820}},
		{Sweep{From: 22, To: 22_000, Seconds: 2}, 0.289529655, [4]float64{0.200687, 0.318081, 0.401373, 0.465980}},
	} {
		require.InDelta(t, c.l, c.sweep.TimeConstant(), 1e-9)
		for i, want := range c.ahead {
			require.InDelta(t, want, c.sweep.Ahead(i+2).Seconds(), 1e-6)
		}
	}
	require.InDelta(t, 1.505, Default(KindSweep).Sweep.Ahead(2).Seconds(), 0.001)
}

func TestEveryDefaultIsAValidSignal(t *testing.T) {
	for _, kind := range Kinds() {
		s := Default(kind)
		require.NoError(t, s.Validate())
		require.Equal(t, kind, s.Kind())
		x := s.Samples()
		require.Len(t, x, s.Frames())
		top := 0.0
		for _, v := range x {
			top = math.Max(top, math.Abs(v))
		}
		require.InDelta(t, 0.1, s.Peak(), 1e-12, "-20 dBFS is the RMS of a sine of peak 0.1 (AES17-2015)")
		require.LessOrEqual(t, top, s.Peak())
		require.InDelta(t, s.Peak(), top, 0.001*s.Peak(), "and the level is reached")
		for _, v := range x[:24_000-24] { // a click spreads 24 samples before its peak
			require.Zero(t, v, "silence in the lead of 500 ms")
		}
		caution := s.Caution()
		for _, word := range []string{string(kind), "-20 dBFS", "headphones", "loudspeakers", "0.1 of full scale"} {
			require.Contains(t, caution, word)
		}
	}
	require.Zero(t, Default("whistle"))
}

func TestWhatNoSignalCanHave(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name  string
		kind  Kind
		spoil func(s *Signal)
		path  string
		want  string
	}{
		{"no kind", KindTone, func(s *Signal) { s.Tone = nil }, "", "holds 0 of [sweep]"},
		{"two kinds", KindTone, func(s *Signal) { s.Sweep = &Sweep{} }, "", "holds 2 of [sweep]"},
		{"a rate with a fraction", KindTone, func(s *Signal) { s.Rate = 44_100.5 }, "rate_hz", "whole number"},
		{"a rate of nothing", KindTone, func(s *Signal) { s.Rate = 0 }, "rate_hz", "from 8000 to 192000"},
		{"beyond full scale", KindTone, func(s *Signal) { s.Level = 1 }, "level_dbfs", "from -80 to 0"},
		{"a level that is no number", KindTone, func(s *Signal) { s.Level = preset.Decibels(nan) }, "level_dbfs", "must lie"},
		{"no silence before", KindTone, func(s *Signal) { s.Lead = 0 }, "lead_ms", "from 20"},
		{"a tail below nought", KindTone, func(s *Signal) { s.Tail = -1 }, "tail_ms", "from 0"},
		{"a tone above the band", KindTone, func(s *Signal) { s.Tone.Frequency = 23_000 }, "tone.frequency_hz", "21600"},
		{"a fade longer than the tone", KindTone, func(s *Signal) { s.Tone.Fade = 20_000 }, "tone.fade_ms", "from 0 to 15000"},
		{"a tone over an hour with its silence", KindTone, func(s *Signal) { s.Tone.Seconds = 3600 }, "", "3600 s at most"},
		{"a sweep downwards", KindSweep, func(s *Signal) { s.Sweep.From, s.Sweep.To = 9000, 50 }, "sweep.to_hz", "an octave or more above from_hz"},
		{"a sweep of no time", KindSweep, func(s *Signal) { s.Sweep.Seconds = 0 }, "sweep.seconds", "from 0.1"},
		{"no click", KindClicks, func(s *Signal) { s.Clicks.Count = 0 }, "clicks.count", "from 1"},
		{"clicks on top of each other", KindClicks, func(s *Signal) { s.Clicks.Spacing = 1 }, "clicks.spacing_ms", "from 20"},
		{"one step", KindSteps, func(s *Signal) { s.Steps.Count = 1 }, "steps.count", "from 2"},
		{"steps out of nothing", KindSteps, func(s *Signal) { s.Steps.Step = 20 }, "steps.count", "take fewer or smaller"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := Default(c.kind)
			c.spoil(&s)
			err := s.Validate()
			var field *preset.FieldError
			require.ErrorAs(t, err, &field)
			require.Equal(t, c.path, field.Path)
			require.ErrorContains(t, err, c.want)
		})
	}
}

func TestCheckTake(t *testing.T) {
	s := Default(KindSweep)
	s.Sweep.Seconds = 1
	x := s.Samples()
	require.NoError(t, s.CheckTake(KindSweep, s.Rate, x, nil))
	require.NoError(t, s.CheckTake(KindSweep, s.Rate, x, x))
	require.NoError(t, s.CheckTake(KindSweep, s.Rate, x[24_000:72_000], nil), "the sweep without its lead and tail")

	bad := append([]float64{0.5, math.Inf(-1)}, x...)
	var refusal *Refusal
	for _, c := range []struct {
		kind     Kind
		rate     preset.Hertz
		wet, dry []float64
		want     string
		refused  bool
	}{
		{KindTone, s.Rate, x, nil, "the signal is sweep, where tone is wanted", false},
		{KindSweep, 44_100, x, nil, "a rate of 44100 Hz, the signal 48000 Hz: record at", false},
		{KindSweep, s.Rate, x, x[1:], "both must be of one length", false},
		{KindSweep, s.Rate, x[:47_999], nil, "the sweep alone 1.0 s: record the whole signal", true},
		{KindSweep, s.Rate, nil, nil, "the take lasts 0.0 s", true},
		{KindSweep, s.Rate, make([]float64, 48_000*1208), nil, "cut the take", true},
		{KindSweep, s.Rate, bad, nil, "sample 1 (at 0.000 s) is -Inf, which is no sound: export", true},
		{KindSweep, s.Rate, make([]float64, len(bad)), bad, "sample 1", true},
	} {
		err := s.CheckTake(c.kind, c.rate, c.wet, c.dry)
		require.ErrorContains(t, err, c.want)
		require.Equal(t, c.refused, errors.As(err, &refusal))
	}
	require.ErrorContains(t, Signal{}.CheckTake(KindSweep, s.Rate, x, nil), "the signal: rate_hz")
}
