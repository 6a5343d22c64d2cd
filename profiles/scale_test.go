package profiles

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func mustCompile(t *testing.T, f scaleFile) *Scale {
	t.Helper()
	s, m := f.compile("test")
	require.Nil(t, m)
	return s
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
	level := mustCompile(t, scaleFile{Unit: "dB", Codes: []int{0, 121}, Silent: one(0), shapesFile: shapesFile{Linear: &linearShape{Code: 1, Is: -60, Step: 0.5}}})
	cut := mustCompile(t, scaleFile{Unit: "Hz", Codes: []int{0, 31}, Off: one(31), shapesFile: shapesFile{Exponential: &exponentialShape{Is: 500, CodesPerOctave: 6}}})
	falling := mustCompile(t, scaleFile{Unit: "ms", Codes: []int{10, 12}, shapesFile: shapesFile{Table: []float64{300, 200, 100}}})
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
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, c.near, c.scale.Nearest(c.v), "nearest")
			require.Equal(t, c.atMost, c.scale.AtMost(c.v), "at most")
		})
	}
}

func one(code int) codeRanges { return codeRanges{{code, code}} }

// Every code's own value must lead back to the code, on every scale shipped.
func TestNearestInvertsValue(t *testing.T) {
	for _, name := range Names() {
		d, err := Shipped(name)
		require.NoError(t, err)
		for _, p := range d.Parameters {
			if len(p.Scale.Words()) > 0 {
				continue
			}
			first, last := p.Scale.Numbers()
			for code := first; code <= last; code++ {
				v := p.Scale.Value(code).Number
				require.Equal(t, code, p.Scale.Nearest(v), "%s %s %v", name, p.Name, v)
				require.Equal(t, code, p.Scale.AtMost(v), "%s %s %v", name, p.Name, v)
			}
		}
	}
}

func TestScaleFacts(t *testing.T) {
	s := mustCompile(t, scaleFile{Unit: "dB", Codes: []int{0, 127}, Silent: one(0), shapesFile: shapesFile{Amplitude: &amplitudeShape{Full: 128}}})
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
}

func TestBadScales(t *testing.T) {
	linear := &linearShape{Step: 1}
	for _, c := range []struct {
		name string
		file scaleFile
		want string
	}{
		{"no codes", scaleFile{shapesFile: shapesFile{Linear: linear}}, "least and the greatest code"},
		{"codes the wrong way round", scaleFile{Codes: []int{9, 3}, shapesFile: shapesFile{Linear: linear}}, "least and the greatest code"},
		{"too many codes", scaleFile{Codes: []int{0, 1 << 30}, shapesFile: shapesFile{Linear: linear}}, "least and the greatest code"},
		{"no shape", scaleFile{Codes: []int{0, 3}}, "0 shapes"},
		{"two shapes", scaleFile{Codes: []int{0, 3}, shapesFile: shapesFile{Linear: linear, Table: []float64{1, 2, 3, 4}}}, "2 shapes"},
		{"unknown unit", scaleFile{Unit: "furlongs", Codes: []int{0, 3}, shapesFile: shapesFile{Linear: linear}}, "one of ms, dB"},
		{"a table of the wrong length", scaleFile{Codes: []int{0, 3}, shapesFile: shapesFile{Table: []float64{1, 2}}}, "2 values for 4 codes"},
		{"not monotonic", scaleFile{Codes: []int{0, 3}, shapesFile: shapesFile{Table: []float64{1, 3, 2, 4}}}, "code 1 is 3, code 2 is 2"},
		{"a flat place", scaleFile{Codes: []int{0, 2}, shapesFile: shapesFile{Table: []float64{1, 1, 2}}}, "not monotonic"},
		{"a step of nothing", scaleFile{Codes: []int{0, 3}, shapesFile: shapesFile{Linear: &linearShape{}}}, "not monotonic"},
		{"amplitude 0 without the silent code", scaleFile{Unit: "dB", Codes: []int{0, 3}, shapesFile: shapesFile{Amplitude: &amplitudeShape{Full: 4}}}, "code 0 has no finite value"},
		{"amplitude of nothing", scaleFile{Unit: "dB", Codes: []int{0, 3}, shapesFile: shapesFile{Amplitude: &amplitudeShape{}}}, "above 0"},
		{"octaves of nothing", scaleFile{Unit: "Hz", Codes: []int{0, 3}, shapesFile: shapesFile{Exponential: &exponentialShape{Is: 20}}}, "codes_per_octave"},
		{"nothing left", scaleFile{Codes: []int{0, 1}, Silent: one(0), Off: one(1), shapesFile: shapesFile{Linear: linear}}, "no code"},
		{"a choice twice", scaleFile{Choices: []string{"x", "x"}}, "stands twice"},
		{"choices and numbers", scaleFile{Choices: []string{"x"}, shapesFile: shapesFile{Linear: linear}}, "numbers or choices"},
		{"choices that do not fit", scaleFile{Codes: []int{0, 5}, Choices: []string{"x", "y"}}, "do not fit"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, m := c.file.compile("test")
			require.NotNil(t, m)
			require.Contains(t, m.problem, c.want)
		})
	}
}
