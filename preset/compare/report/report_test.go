package report

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/compare"
)

func some() compare.Result {
	drift, bend := -12.5, preset.Decibels(-14)
	a, b := make([]float64, 48000), make([]float64, 48000)
	for i := range a {
		a[i] = math.Sin(float64(i)/20) * math.Exp(-float64(i%12000)/2000)
		b[i] = 0.9 * a[i]
	}
	return compare.Result{
		Alignment: compare.Alignment{Offset: 90.0208, OffsetSD: 0.0011, Gain: -4.44, Drift: &drift, DriftSD: 0.02, Inverted: true},
		Residual:  -21.3, Floor: -112,
		From: compare.Windows, Echoes: []compare.Echo{
			{At: 118.4, Level: -6.8, Delta: -0.31, DeltaSD: 0.02, DeltaDB: 0.4, DeltaDBSD: 0.1},
			{At: 237.1, Level: 0, Delta: 7, DeltaDB: 0.1},
			{At: 356.2, Level: -2.3, Missing: true},
		},
		Tone:   []compare.Band{{Centre: 100, Delta: 1.5, DeltaSD: 0.2}, {Centre: 1000, Delta: -0.25}, {Centre: 3162, Delta: -6}},
		Decay:  &compare.Decay{A: 21.7, B: 24.2, Range: 20},
		Steps:  &compare.Steps{OneDBA: &bend, Steps: []compare.StepPair{{In: -30, THDA: 0.1, THDB: 0.2}, {In: -12, GainA: -1.2, GainB: -2.4, THDA: 4, THDB: 9, PeaksB: 1.1}}},
		Traces: compare.Traces{Rate: 48000, A: a, B: b},
	}
}

// elements reads a page strictly but for the tags that HTML leaves open, and lists
// its elements and its text.
func elements(t *testing.T, page []byte) (names map[string]int, attributes []xml.Attr, text string) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(string(page)))
	d.Strict, d.AutoClose, d.Entity = false, []string{"meta", "link", "br"}, xml.HTMLEntity
	names = make(map[string]int)
	var open []string
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			require.Empty(t, open, "an element is never closed")
			return names, attributes, text
		}
		require.NoError(t, err)
		switch v := token.(type) {
		case xml.StartElement:
			names[v.Name.Local]++
			attributes = append(attributes, v.Attr...)
			open = append(open, v.Name.Local)
		case xml.EndElement:
			require.NotEmpty(t, open)
			require.Equal(t, open[len(open)-1], v.Name.Local)
			open = open[:len(open)-1]
		case xml.CharData:
			text += string(v)
		}
	}
}

func TestThePageHoldsEveryFigureAsTextAndNeedsNothingElse(t *testing.T) {
	page, err := HTML(Names{"one.wav", "two.wav"}, some())
	require.NoError(t, err)
	names, attributes, text := elements(t, page)
	require.Zero(t, names["script"])
	require.Zero(t, names["img"])
	require.Equal(t, 4, names["svg"])
	require.Equal(t, 5, names["table"])
	for _, want := range []string{
		"+90.0208 ± 0.0011 ms", "−4.44 dB", "turned over", "−12.50 ± 0.02 ppm", "−21.3 dB",
		"118.40", "−0.31 ± 0.02", "not noticed", "can be noticed", "missing in B", "Of 3 echoes, these differ by as much as can be noticed: 1. Missing in B: 1.",
		"3150", "−6.00", "21.7", "24.2", "−2.40", "9.00", "+1.10",
	} {
		require.Contains(t, text, want)
	}
	described := 0
	for _, a := range attributes {
		require.NotContains(t, a.Value, "http")
		require.False(t, strings.HasPrefix(a.Name.Local, "on"), "no handlers")
		if a.Name.Local == "aria-label" {
			described++
		}
		if a.Name.Local == "d" {
			require.NotContains(t, a.Value, "NaN")
		}
	}
	require.Equal(t, 4, described, "every drawing says what it shows")
	require.Contains(t, string(page), "prefers-color-scheme: dark")
	require.Contains(t, string(page), "@media print")
}

func TestNamesAreTextWhateverTheyHold(t *testing.T) {
	evil := `</title><script>alert("1")</script><img src=x onerror=alert(2)>'"&`
	r := some()
	r.Warnings = append(r.Warnings, struct {
		What string `json:"what"`
		Do   string `json:"do"`
	}{evil, evil})
	page, err := HTML(Names{evil, "b" + evil}, r)
	require.NoError(t, err)
	names, _, text := elements(t, page)
	require.Zero(t, names["script"])
	require.Zero(t, names["img"])
	require.Equal(t, 1, names["title"]-len(r.Echoes), "one of the page and one for each echo")
	require.Equal(t, 6, strings.Count(text, evil), "twice in the title, twice in the heading, twice in a warning")
}

func TestAPageWithoutEchoesToneOrStepsStillStands(t *testing.T) {
	for name, r := range map[string]compare.Result{
		"nothing at all":    {},
		"only silence":      {Traces: compare.Traces{Rate: 48000, A: make([]float64, 100), B: make([]float64, 100)}},
		"at the floor":      {Residual: -112, Floor: -112},
		"figures gone wild": {Residual: preset.Decibels(math.Inf(-1)), Tone: []compare.Band{{Centre: 100, Delta: preset.Decibels(math.NaN())}, {Centre: 200}}},
	} {
		t.Run(name, func(t *testing.T) {
			page, err := HTML(Names{"a", "b"}, r)
			require.NoError(t, err)
			_, _, text := elements(t, page)
			require.Contains(t, text, "Echo by echo")
		})
	}
}
