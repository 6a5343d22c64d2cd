package picture

import (
	"encoding/xml"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// node is an element of a parsed drawing.
type node struct {
	XMLName  xml.Name
	Attrs    []xml.Attr `xml:",any,attr"`
	Text     string     `xml:",chardata"`
	Children []node     `xml:",any"`
}

func (n node) attr(name string) string {
	for _, a := range n.Attrs {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

func (n node) number(t *testing.T, name string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(n.attr(name), 64)
	require.NoErrorf(t, err, "attribute %s of <%s>", name, n.XMLName.Local)
	return v
}

// find gives every element, at any depth, whose class list holds the word.
func (n node) find(class string) []node {
	var all []node
	for _, word := range strings.Fields(n.attr("class")) {
		if word == class {
			all = append(all, n)
		}
	}
	for _, c := range n.Children {
		all = append(all, c.find(class)...)
	}
	return all
}

func parse(t *testing.T, svg []byte) node {
	t.Helper()
	var root node
	require.NoError(t, xml.Unmarshal(svg, &root), "the drawing must be well-formed XML")
	require.Equal(t, "svg", root.XMLName.Local)
	return root
}

// timeAt reads the time axis as a person would: from its first and last number.
func timeAt(t *testing.T, root node) func(x float64) float64 {
	t.Helper()
	ticks := root.find("tick")
	require.GreaterOrEqual(t, len(ticks), 4, "an axis needs numbers to be read")
	first, last := ticks[0], ticks[len(ticks)-1]
	ms := func(n node) float64 {
		v, err := strconv.ParseFloat(n.Text, 64)
		require.NoError(t, err)
		return v
	}
	x0, x1 := first.number(t, "x"), last.number(t, "x")
	return func(x float64) float64 { return ms(first) + (x-x0)/(x1-x0)*(ms(last)-ms(first)) }
}

// someTake is a click at 20 ms and echoes of it; invented figures.
func someTake() Take {
	t := Take{Rate: 8000, Samples: make([]float64, 8000), Onset: 20, Marks: []Mark{
		{At: 121.5, SD: 0.06, Level: -7, LevelSD: 0.1, Head: 2},
		{At: 263, SD: 0.08, Level: -0.4, LevelSD: 0.2, Head: 4},
		{At: 405.25, Level: -2, Head: 6},
		{At: 526.75, Level: -15, LevelSD: 1, Head: 2, Turn: 1},
		{At: 668.25, Level: -90, Head: 4, Turn: 1},
	}}
	t.Samples[160] = 0.8
	t.Samples[160+972] = -0.36
	return t
}

func TestEveryEchoStandsAtItsTime(t *testing.T) {
	take := someTake()
	for name, panel := range map[string]Panel{"waveform": Waveform{take}, "levels": Levels{take}} {
		t.Run(name, func(t *testing.T) {
			root := parse(t, SVG("take", panel))
			at := timeAt(t, root)
			echoes := root.find("echo")
			for i, e := range echoes {
				x := e.Children[1].number(t, "x1") // after the hint: the line of the mark
				// Pixels are written in hundredths, and a pixel is under 1 ms here.
				require.InDelta(t, float64(take.Marks[i].At), at(x), 0.05)
				require.InDelta(t, float64(take.Marks[i].At), e.number(t, "data-ms"), 0.005)
			}
			want := len(take.Marks)
			if name == "levels" {
				want-- // the one at −90 dB lies below the scale
			}
			require.Len(t, echoes, want)
		})
	}
}

func TestLevelsStandAtTheirHeightWithBarsOfTwoDeviations(t *testing.T) {
	root := parse(t, SVG("take", Levels{someTake()}))
	var zero, twelve float64
	for _, c := range root.find("small") {
		switch c.Text {
		case "0 dB":
			zero = c.number(t, "y")
		case "-12 dB":
			twelve = c.number(t, "y")
		}
	}
	pixelsPerDB := (twelve - zero) / 12
	require.Positive(t, pixelsPerDB, "louder is higher up")
	for _, e := range root.find("echo") {
		dot := e.find("echo")[0]
		for _, c := range dot.Children {
			if c.XMLName.Local == "circle" {
				// Numbers stand 4 px below their line, see levelAxis.
				require.InDelta(t, e.number(t, "data-db"), -(c.number(t, "cy")-zero+4)/pixelsPerDB, 0.02)
			}
		}
	}
	first := root.find("echo")[0]
	require.Len(t, first.find("bar"), 2, "one bar for the level, one for the time")
	require.Contains(t, first.Children[0].Text, "121.50 ± 0.06 ms, -7.0 ± 0.1 dB")
	require.Len(t, root.find("echo")[2].find("bar"), 0, "nothing known, nothing drawn")
	list := root.find("figure")
	require.Len(t, list, 3, "first echoes alone")
	require.Equal(t, "head 4: 263.00 ± 0.08 ms, -0.4 ± 0.2 dB", list[1].Text)
}

func TestTheWaveformShowsBothSidesOfTheSound(t *testing.T) {
	low, high := someTake().Envelope(0, 200, 200) // columns of 1 ms, 8 samples
	require.Equal(t, 0.8, high[0])
	require.Equal(t, -0.36, low[121])
	for i := range high {
		if i != 0 {
			require.Zerof(t, high[i], "column %d", i)
		}
	}
}

func TestEnvelopeOfOddTakes(t *testing.T) {
	for name, take := range map[string]Take{
		"no samples":                {Rate: 48000},
		"no rate":                   {Samples: []float64{1, 2}},
		"a note after the end":      {Rate: 8000, Samples: make([]float64, 10), Onset: 5000},
		"samples that are no sound": {Rate: 8000, Samples: []float64{math.NaN(), math.NaN(), 0.5}},
		"an infinite onset":         {Rate: 8000, Samples: make([]float64, 10), Onset: preset.Millis(math.Inf(1))},
	} {
		t.Run(name, func(t *testing.T) {
			from, to := take.Span()
			low, high := take.Envelope(from, to, 50)
			require.Len(t, low, 50)
			for i := range low {
				require.False(t, math.IsNaN(low[i]) || math.IsNaN(high[i]))
			}
			parse(t, SVG("odd", Waveform{take}, Levels{take}))
		})
	}
}

func TestWantedAndGotStandSideBySide(t *testing.T) {
	p := Comparison{
		Echoes: []Pair{
			{Wanted: Single{100, 0}, Got: &Single{100.1, -0.2}},
			{Wanted: Single{200, -6}},
		},
		Extra: []Single{{150, -20}, {170, -300}},
	}
	root := parse(t, SVG("plan", p))
	at := timeAt(t, root)
	middle := func(n node) float64 { return at(n.number(t, "x") + n.number(t, "width")/2) }
	bars := func(class string) []node { return root.find(class) }
	require.Len(t, bars("wanted"), 1)
	require.Len(t, bars("got"), 1)
	require.Len(t, bars("missing"), 1)
	require.Len(t, bars("extra"), 1, "what lies below the scale is not drawn")
	// Pixels are written in hundredths, and a pixel is under 0.3 ms here.
	require.InDelta(t, 100, middle(bars("wanted")[0]), 0.01)
	require.InDelta(t, 100.1, middle(bars("got")[0]), 0.01)
	require.InDelta(t, 200, middle(bars("missing")[0]), 0.01)
	require.InDelta(t, 150, middle(bars("extra")[0]), 0.01)
	require.Greater(t, bars("wanted")[0].number(t, "height"), bars("missing")[0].number(t, "height"))
	require.Contains(t, string(SVG("plan", p)), "wanted 200.00 ms, -6.0 dB; not to be had")
}

func TestNothingToCompareIsStillADrawing(t *testing.T) {
	parse(t, SVG("empty", Comparison{}))
	silent := preset.Decibels(math.Inf(-1))
	parse(t, SVG("silence", Comparison{Echoes: []Pair{{Wanted: Single{10, silent}, Got: &Single{10, silent}}}}))
}

func TestTextIsEscaped(t *testing.T) {
	title := "a </title><script>alert(1)</script> & \x1b[2J \x00 ü"
	root := parse(t, SVG(title, Waveform{someTake()}))
	require.NotContains(t, string(SVG(title)), "<script")
	require.Equal(t, strings.NewReplacer("\x1b", "\uFFFD", "\x00", "\uFFFD").Replace(title), root.find("title")[0].Text)
}

func TestPanelsDoNotCoverEachOther(t *testing.T) {
	take := someTake()
	root := parse(t, SVG("all", Waveform{take}, Levels{take}, Comparison{}))
	frames := root.find("frame")
	require.Len(t, frames, 3)
	bottom := 0.0
	for _, f := range frames {
		require.GreaterOrEqual(t, f.number(t, "y"), bottom)
		bottom = f.number(t, "y") + f.number(t, "height") + panelSpace
	}
	require.LessOrEqual(t, bottom, root.number(t, "height"))
}

func TestItReadsByDayAndByNight(t *testing.T) {
	require.Contains(t, string(SVG("x")), "prefers-color-scheme:dark")
	require.NotEmpty(t, parse(t, SVG("x")).find("paper"), "a ground of its own, whatever it is shown on")
}

func TestTicksAreRound(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		wanted    int
		want      []float64
	}{
		{-20, 540, 12, []float64{0, 50, 100, 150, 200, 250, 300, 350, 400, 450, 500}},
		{0, 1, 5, []float64{0, 0.2, 0.4, 0.6, 0.8, 1}},
		{-0.04, 4000, 12, []float64{0, 500, 1000, 1500, 2000, 2500, 3000, 3500, 4000}},
	} {
		got := axis{low: c.low, high: c.high}.ticks(c.wanted)
		require.InDeltaSlice(t, c.want, got, 1e-9)
	}
}

func TestNamesOfNeighboursGoBelowEachOther(t *testing.T) {
	marks := []Mark{{At: 10}, {At: 12}, {At: 13, Turn: 1}, {At: 14}, {At: 500}}
	a := axis{low: 0, high: 870, start: 0, end: 870}
	require.Equal(t, []int{0, 1, 0, 2, 0}, labelLines(marks, a, 58))
}

func BenchmarkSVG(b *testing.B) {
	take := someTake()
	take.Samples = make([]float64, 4*48000)
	take.Rate = 48000
	for b.Loop() {
		SVG("take", Waveform{take}, Levels{take})
	}
}
