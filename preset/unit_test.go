package preset

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// saltmarsh is a unit of our own invention with the delays and levels that are
// common practice for three heads (no source).
func saltmarsh() Unit {
	return Unit{
		Name: "saltmarsh-drum-1", Kind: Drum,
		Heads: []Head{
			{Head: 2, Delay: 121, Level: -7, LowCutHz: 70, HighCutHz: 3200},
			{Head: 4, Delay: 263, Level: 0, LowCutHz: 70, HighCutHz: 3200},
			{Head: 6, Delay: 405, Level: -2, LowCutHz: 70, HighCutHz: 3200},
		},
		Feedback: &Feedback{Heads: []int{6}, Gain: -6.9, GainSD: 0.2},
		Direct:   &Direct{EchoToDirect: -3},
		Motion:   &Motion{SpeedRatio: 1, WowPercent: 0.15, WowHz: 0.9},
	}
}

func TestAGoodUnitIsValid(t *testing.T) { require.NoError(t, saltmarsh().Validate()) }

func TestWhatNoUnitCanHave(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		name  string
		spoil func(u *Unit)
		path  string
		want  string
	}{
		{"no name", func(u *Unit) { u.Name = "" }, "name", "give it a name"},
		{"a name with a path in it", func(u *Unit) { u.Name = "../x" }, "name", "lower-case"},
		{"a name too long", func(u *Unit) { u.Name = strings.Repeat("a", 65) }, "name", "64 at most"},
		{"an unknown kind", func(u *Unit) { u.Kind = "wire" }, "kind", "one of tape, drum"},
		{"a terminal escape in the notes", func(u *Unit) { u.Notes = "\x1b[2J" }, "notes", "control character U+001B"},
		{"notes without end", func(u *Unit) { u.Notes = strings.Repeat("x", 20_000) }, "notes", "16384 at most"},
		{"a hash that is none", func(u *Unit) { u.Origin = &Origin{TakeSHA256: "beef"} }, "origin.take_sha256", "64 lower-case hex"},
		{"no head", func(u *Unit) { u.Heads = nil }, "head", "at least one"},
		{"too many heads", func(u *Unit) { u.Heads = make([]Head, 65) }, "head", "64 at most"},
		{"a head twice", func(u *Unit) { u.Heads[1].Head = 2 }, "head.1.head", "stands twice"},
		{"heads out of order", func(u *Unit) { u.Heads[1].Head = 1 }, "head.1.head", "stands after head 2"},
		{"head 0", func(u *Unit) { u.Heads[0].Head = 0 }, "head.0.head", "from 1 to 64"},
		{"a delay in seconds", func(u *Unit) { u.Heads[0].Delay = 0.121 }, "head.0.delay_ms", "from 1 to 60000"},
		{"a delay that is no number", func(u *Unit) { u.Heads[0].Delay = Millis(nan) }, "head.0.delay_ms", "finite"},
		{"an endless delay", func(u *Unit) { u.Heads[2].Delay = Millis(inf) }, "head.2.delay_ms", "finite"},
		{"a level above the loudest", func(u *Unit) { u.Heads[2].Level = 2.1 }, "head.2.level_db", "+2.1: the loudest head is 0"},
		{"no head at 0 dB", func(u *Unit) { u.Heads[1].Level = -1 }, "head", "add 1 to each"},
		{"a level that is no number", func(u *Unit) { u.Heads[0].Level = Decibels(nan) }, "head.0.level_db", "finite"},
		{"a negative deviation", func(u *Unit) { u.Heads[0].DelaySD = -1 }, "head.0.delay_sd_ms", "from 0"},
		{"a negative cut", func(u *Unit) { u.Heads[0].LowCutHz = -1 }, "head.0.low_cut_hz", "from 0"},
		{"feedback of a head that is not there", func(u *Unit) { u.Feedback.Heads = []int{5} }, "feedback.heads", "head 5, which the unit does not have (it has [2 4 6])"},
		{"feedback of a head twice", func(u *Unit) { u.Feedback.Heads = []int{6, 6} }, "feedback.heads", "twice"},
		{"feedback of no head", func(u *Unit) { u.Feedback.Heads = nil }, "feedback.heads", "leave [feedback] out"},
		{"a loop that cannot be", func(u *Unit) { u.Feedback.Gain = 13 }, "feedback.gain_db", "from -96 to 12"},
		{"echo to direct of nothing", func(u *Unit) { u.Direct.EchoToDirect = Decibels(-inf) }, "direct.echo_to_direct_db", "finite"},
		{"wow below 0", func(u *Unit) { u.Motion.WowPercent = -1 }, "motion.wow_percent", "from 0 to 50"},
		{"a speed of nothing real", func(u *Unit) { u.Motion.SpeedRatio = nan }, "motion.speed_ratio", "finite"},
		{"a bias past the knee", func(u *Unit) { u.Drive = &Drive{Bias: 3} }, "drive.bias", "from -2 to 2"},
	} {
		t.Run(c.name, func(t *testing.T) {
			u := saltmarsh()
			c.spoil(&u)
			err := u.Validate()
			var field *FieldError
			require.ErrorAs(t, err, &field)
			require.Equal(t, c.path, field.Path)
			require.ErrorContains(t, err, c.want)
		})
	}
}

func TestEveryMistakeIsReported(t *testing.T) {
	u := saltmarsh()
	u.Name, u.Kind, u.Heads[0].Delay = "", "", -1
	var all FieldErrors
	require.ErrorAs(t, u.Validate(), &all)
	require.Len(t, all, 3)
}

func TestUnitsOfMeasure(t *testing.T) {
	// 48 samples at 48 kHz are one millisecond by definition; the ratios are
	// those of 20·log10, to the digits printed in tables (−6 dB = 0.5011872).
	require.InDelta(t, 48, Millis(1).Samples(48_000), 1e-12)
	require.InDelta(t, 1, float64(SamplesToMillis(48, 48_000)), 1e-12)
	require.InDelta(t, 0.5011872, Decibels(-6).Amplitude(), 1e-7)
	require.InDelta(t, 0.1, Decibels(-20).Amplitude(), 1e-12)
	require.InDelta(t, -6, float64(FromAmplitude(-0.5011872)), 1e-6)
	require.Equal(t, "-7.5 dB", Decibels(-7.5).String())
	require.Equal(t, "121 ms", Millis(121).String())
}

func TestOnePoleTone(t *testing.T) {
	// A one-pole filter loses 10·log10(2) dB at its corner and 10·log10(1+2²) an
	// octave beyond (definition).
	for _, c := range []struct {
		tone Tone
		f    Hertz
		want float64
	}{
		{Tone{}, 1000, 0},
		{Tone{HighCut: 1000}, 1000, -3.0103},
		{Tone{HighCut: 1000}, 2000, -6.9897},
		{Tone{LowCut: 1000}, 500, -6.9897},
		{Tone{LowCut: 1000, HighCut: 1000}, 1000, -6.0206},
	} {
		require.InDelta(t, c.want, float64(FromAmplitude(c.tone.Magnitude(c.f))), 1e-4)
	}
}
