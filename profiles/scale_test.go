package profiles

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// scaleOf is a scale as a profile states it.
func scaleOf(t testing.TB, text string) *Scale {
	t.Helper()
	d, err := Parse("scale.toml", []byte(withScale(text)))
	require.NoError(t, err)
	return d.Parameters[d.Parameter("a-x")].Scale
}

// withScale is the least profile that has a parameter on that scale.
func withScale(text string) string {
	return `format = "echowright-device/1"
name = "one-scale"
[manners]
[scale.time]
unit = "ms"
codes = [0, 100]
linear = { code = 0, is = 0.0, step = 1.0 }
[line]
names = ["a"]
parameter = [{ role = "time", scale = "time" }, { name = "x", scale = "x" }]
[scale.x]
` + text
}

func number(t *testing.T, s *Scale, code int) float64 {
	t.Helper()
	v := s.Value(code)
	require.Empty(t, v.Word, "code %d", code)
	return v.Number
}

func TestScalesMeanWhatTheManualSays(t *testing.T) {
	d, err := Shipped("five-line")
	require.NoError(t, err)
	for _, c := range []struct { // the tables of five-line.md
		parameter string
		code      int
		want      Value
	}{
		{"a-time", 0, Value{Number: 0}},
		{"a-time", 1210, Value{Number: 121}},
		{"e-time", 16000, Value{Number: 1600}},
		{"b-level", 0, Value{Word: "silent"}},
		{"b-level", 1, Value{Number: -60}},
		{"b-level", 107, Value{Number: -7}},
		{"b-level", 121, Value{Number: 0}},
		{"c-polarity", 0, Value{Word: "normal"}},
		{"c-polarity", 1, Value{Word: "inverted"}},
		{"c-feedback", 0, Value{Word: "silent"}},
		{"d-source", 0, Value{Word: "input"}},
		{"d-source", 3, Value{Word: "c"}},
		{"e-high-cut", 0, Value{Number: 500}},
		{"e-high-cut", 6, Value{Number: 1000}},
		{"e-high-cut", 30, Value{Number: 16000}},
		{"e-high-cut", 31, Value{Word: "off"}},
		{"e-low-cut", 0, Value{Word: "off"}},
		{"e-low-cut", 1, Value{Number: 20}},
		{"e-low-cut", 31, Value{Number: 640}},
		{"dry-level", 121, Value{Number: 0}},
		{"drive", 100, Value{Number: 20}},
		{"wobble-rate", 1000, Value{Number: 10}},
		{"wobble-depth", 200, Value{Number: 2}},
	} {
		i := d.Parameter(c.parameter)
		require.NotEqual(t, None, i, c.parameter)
		require.Equal(t, c.want, d.Parameters[i].Scale.Value(c.code), "%s code %d", c.parameter, c.code)
	}
	// Feedback 64 of 128 is half the amplitude: 20·log10(1/2).
	require.InDelta(t, -6.0206, number(t, d.Parameters[d.Parameter("a-feedback")].Scale, 64), 1e-4)
}

func TestNearestCode(t *testing.T) {
	level := scaleOf(t, `unit = "dB"
codes = [0, 121]
silent = 0
linear = { code = 1, is = -60.0, step = 0.5 }`)
	cut := scaleOf(t, `unit = "Hz"
codes = [0, 31]
off = 31
exponential = { code = 0, is = 500.0, codes_per_octave = 6.0 }`)
	falling := scaleOf(t, `unit = "ms"
codes = [10, 12]
table = [300.0, 200.0, 100.0]`)
	gappy := scaleOf(t, `unit = "ms"
codes = [0, 9]
holes = [4, 6]
linear = { code = 0, is = 0.0, step = 10.0 }`)
	signed := scaleOf(t, `unit = "amplitude"
codes = [0, 8]
silent = 4
linear = { code = 4, is = 0.0, step = 0.25 }`)
	for _, c := range []struct {
		name   string
		scale  *Scale
		v      float64
		near   int
		atMost int
	}{
		{"exactly a code", level, -7, 107, 107},
		{"half way goes to the lower code", level, -7.25, 106, 106},
		{"a little above half way", level, -7.2, 107, 106},
		{"below all: never the silent code", level, -90, 1, 1},
		{"above all: the last number", level, 6, 121, 121},
		{"a frequency is near by ratio: 707 of 630 and 794 lies half way, 720 above", cut, 720, 3, 3},
		{"above the last frequency: never the off code", cut, 90000, 30, 30},
		{"falling values", falling, 160, 11, 12},
		{"falling: below all", falling, 50, 12, 12},
		{"falling: above all", falling, 500, 10, 10},
		{"over a hole to the other side", gappy, 56, 7, 3},
		{"half way over a hole", gappy, 50, 3, 3},
		{"with a sign: half of full is code 6, -6.02 dB", signed, -6, 6, 6},
		{"with a sign: above all is the last that does not turn it", signed, 20, 8, 8},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, c.near, c.scale.Nearest(c.v), "nearest")
			require.Equal(t, c.atMost, c.scale.AtMost(c.v), "at most")
		})
	}
}

// Every code's own value must lead back to the code, on every scale shipped.
func TestNearestInvertsValue(t *testing.T) {
	for _, name := range Names() {
		d, err := Shipped(name)
		require.NoError(t, err)
		for _, p := range d.Parameters {
			if len(p.Scale.Words()) > 0 {
				continue
			}
			for _, code := range p.Scale.Rising() {
				v := p.Scale.Value(code).Number
				require.Equal(t, code, p.Scale.Nearest(v), "%s %s %v", name, p.Name, v)
				require.Equal(t, code, p.Scale.AtMost(v), "%s %s %v", name, p.Name, v)
			}
		}
	}
}

func TestScaleFacts(t *testing.T) {
	s := scaleOf(t, `unit = "dB"
codes = [0, 127]
silent = 0
amplitude = { full = 128 }`)
	low, high := s.Range()
	require.InDelta(t, -42.1442, low, 1e-4)  // 20·log10(1/128)
	require.InDelta(t, -0.06812, high, 1e-5) // 20·log10(127/128)
	require.InDelta(t, 3.0103, s.WorstRounding(), 1e-4, "from code 1 to 2 the amplitude doubles: half of 6.0206 dB")
	code, ok := s.Silent()
	require.True(t, ok)
	require.Zero(t, code)
	_, ok = s.Off()
	require.False(t, ok)
	require.False(t, s.Holds(128))
	require.Zero(t, s.Amplitude(0))
	require.InDelta(t, 0.5, s.Amplitude(64), 1e-12)
}
