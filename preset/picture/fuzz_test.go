package picture

import (
	"encoding/xml"
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

var words = regexp.MustCompile(`>[^<]*<`)

// FuzzSVG draws whatever comes: the result is always well-formed XML in which
// every number is a number.
func FuzzSVG(f *testing.F) {
	f.Add("a take", 121.0, 0.06, -7.0, 0.1, 20.0, 0.5)
	f.Add("<&\x00\xff", math.Inf(1), math.NaN(), math.Inf(-1), -1.0, -1e300, math.NaN())
	f.Add("", 0.0, 1e300, 400.0, 1e300, 1e300, -1e300)
	f.Fuzz(func(t *testing.T, title string, at, sd, level, levelSD, onset, sample float64) {
		take := Take{
			Rate: 8000, Samples: []float64{0, sample, -sample, 0.1}, Onset: preset.Millis(onset),
			Marks: []Mark{{At: preset.Millis(at), SD: preset.Millis(sd), Level: preset.Decibels(level), LevelSD: preset.Decibels(levelSD), Head: 2}},
		}
		got := Single{At: preset.Millis(sd), Level: preset.Decibels(levelSD)}
		pairs := Comparison{
			Echoes: []Pair{{Wanted: Single{At: preset.Millis(at), Level: preset.Decibels(level)}, Got: &got}},
			Extra:  []Single{{At: preset.Millis(onset), Level: preset.Decibels(sample)}},
		}
		svg := SVG(title, Waveform{take}, Levels{take}, pairs)
		if err := xml.Unmarshal(svg, new(node)); err != nil {
			t.Fatalf("%v\n%s", err, svg)
		}
		places := words.ReplaceAllString(string(svg), "") // words may say NaN, places may not
		if strings.Contains(places, "NaN") || strings.Contains(places, "Inf") {
			t.Fatalf("a place that is no number:\n%s", svg)
		}
	})
}

func TestNumbersAreWrittenForPixels(t *testing.T) {
	for v, want := range map[float64]string{
		1: "1", 0.125: "0.13", -3.14159: "-3.14", 1e9: "1000000000",
		math.Inf(1): "0", math.Inf(-1): "0",
	} {
		require.Equal(t, want, number(v))
	}
	require.Equal(t, "0", number(math.NaN()))
}

func TestAttributesAreEscaped(t *testing.T) {
	c := &canvas{}
	c.element("rect", "class", `a"><script>`, "x", 1.5)
	require.Equal(t, `<rect class="a&#34;&gt;&lt;script&gt;" x="1.5"/>`+"\n", c.text.String())
	c = &canvas{}
	c.words("<b> & \x07", "x", 2.0)
	require.Equal(t, "<text x=\"2\">&lt;b&gt; &amp; \uFFFD</text>\n", c.text.String())
}

func TestValuesOffTheAxisStopAtItsEnds(t *testing.T) {
	a := axis{low: -60, high: 0, start: 300, end: 60} // upwards
	require.Equal(t, 60.0, a.inside(12))
	require.Equal(t, 300.0, a.inside(-100))
	require.Equal(t, 180.0, a.inside(-30))
	require.Equal(t, 180.0, a.at(-30))
}

func TestAMarkInWords(t *testing.T) {
	for want, m := range map[string]Mark{
		"head 2: 121.00 ms, -7.0 dB to the direct sound":                         {At: 121, Level: -7, Head: 2},
		"head 2, repeat 3: 526.00 ± 0.25 ms, -14.1 ± 0.5 dB to the direct sound": {At: 526, SD: 0.25, Level: -14.1, LevelSD: 0.5, Head: 2, Turn: 3},
	} {
		require.Equal(t, want, m.tell())
	}
}

func TestTheSpanHoldsEveryMark(t *testing.T) {
	for _, take := range []Take{
		{Rate: 8000, Samples: make([]float64, 8000)},
		{Rate: 8000, Samples: make([]float64, 8000), Marks: []Mark{{At: 121}, {At: 405}}},
		{Rate: 8000, Samples: make([]float64, 80), Marks: []Mark{{At: 4000}}},
		{},
	} {
		from, to := take.Span()
		require.Negative(t, float64(from), "a little before the note")
		require.Greater(t, to, from)
		for _, m := range take.Marks {
			require.Less(t, m.At, to)
		}
	}
}
