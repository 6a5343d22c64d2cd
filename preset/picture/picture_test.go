package picture

import (
	"encoding/xml"
	"fmt"
	"math"
	"math/rand/v2"
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

func (n node) has(class string) bool {
	for _, word := range strings.Fields(n.attr("class")) {
		if word == class {
			return true
		}
	}
	return false
}

func (n node) number(t testing.TB, name string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(n.attr(name), 64)
	require.NoErrorf(t, err, "attribute %s of <%s>", name, n.XMLName.Local)
	return v
}

// all gives every element, at any depth, that is wanted.
func (n node) all(wanted func(node) bool) (found []node) {
	if wanted(n) {
		found = append(found, n)
	}
	for _, c := range n.Children {
		found = append(found, c.all(wanted)...)
	}
	return found
}

func (n node) find(class string) []node { return n.all(func(n node) bool { return n.has(class) }) }

func (n node) tags(name string) []node {
	return n.all(func(n node) bool { return n.XMLName.Local == name })
}

// words are all texts of a part of the drawing, one after the other.
func (n node) words() string {
	var all []string
	for _, t := range n.tags("text") {
		all = append(all, t.Text)
	}
	return strings.Join(all, " ")
}

func page(t testing.TB, panels ...Panel) node {
	t.Helper()
	text, err := SVG("a take", panels...)
	require.NoError(t, err)
	return parse(t, text)
}

func parse(t testing.TB, svg []byte) node {
	t.Helper()
	var root node
	require.NoError(t, xml.Unmarshal(svg, &root), "the drawing must be well-formed XML")
	require.Equal(t, "svg", root.XMLName.Local)
	return root
}

// read is an axis as a person reads it: from its first and its last number.
func read(t testing.TB, n node, class, coordinate string) func(pixels float64) float64 {
	t.Helper()
	ticks := n.find(class)
	require.GreaterOrEqual(t, len(ticks), 2, "an axis needs numbers to be read")
	first, last := ticks[0], ticks[len(ticks)-1]
	at := func(n node) float64 { return n.tags("text")[0].number(t, coordinate) }
	v0, v1 := first.number(t, "data-value"), last.number(t, "data-value")
	return func(pixels float64) float64 { return v0 + (pixels-at(first))/(at(last)-at(first))*(v1-v0) }
}

// someTake is a click at 20 ms and echoes of it; invented figures.
func someTake() Take {
	t := Take{Rate: 8000, Samples: make([]float64, 8000), Onset: 20, Marks: []Mark{
		{At: 121.5, SD: 0.06, Level: -7, LevelSD: 0.1, Head: 2},
		{At: 263, SD: 4, Level: -3.4, LevelSD: 1.2, Head: 4},
		{At: 405.25, Level: -2, Head: 6},
		{At: 526.75, Level: -15, LevelSD: 1, Head: 2, Turn: 1},
		{At: 668.25, Level: -90, Head: 4, Turn: 1},
	}}
	t.Samples[160] = 0.8
	t.Samples[160+972] = -0.36
	return t
}

// crowded is a take of many heads that stand close, and their repeats.
func crowded(heads, turns int, random *rand.Rand) Take {
	t := Take{Rate: 8000, Samples: make([]float64, 16000), Onset: 20}
	for h := range heads {
		t.Marks = append(t.Marks, Mark{At: preset.Millis(100 + float64(h)*30*random.Float64()), Level: preset.Decibels(-10 * random.Float64()), Head: h + 1})
	}
	for turn := 1; turn <= turns; turn++ {
		for h := range heads {
			t.Marks = append(t.Marks, Mark{At: preset.Millis(100 + 300*float64(turn) + 20*float64(h)*random.Float64()), Level: preset.Decibels(-12 * turn), Head: h + 1, Turn: turn})
		}
	}
	// By time, as takes come.
	for i := range t.Marks {
		for k := i; k > 0 && t.Marks[k].At < t.Marks[k-1].At; k-- {
			t.Marks[k], t.Marks[k-1] = t.Marks[k-1], t.Marks[k]
		}
	}
	return t
}

// everyPanel draws one of each kind, of a take.
func everyPanel(take Take) []Panel {
	left := make([]preset.Decibels, 100)
	for i := range left {
		left[i] = -60
	}
	one := preset.Decibels(-12)
	var tones []Response
	var orders []Order
	for i, m := range take.first() {
		tones = append(tones, Response{Head: m.Head, Tone: preset.Tone{LowCut: 60, HighCut: preset.Hertz(2000 + 700*i)}})
	}
	for n := 2; n <= 5; n++ {
		orders = append(orders, Order{N: n, Curve: []Strength{{100, -40}, {1000, -45}, {4000, -60}}})
	}
	steps := []Step{{In: -40, Out: -43, Harmonics: []preset.Percent{0.1, 0.01, 0.02, 0.01}, Noise: 0.01}, {In: -10, Out: -15, Harmonics: []preset.Percent{2, 5, 1, 1}, Noise: 0.01}}
	return []Panel{
		Waveform{Take: take, Notes: 2}, Levels{take},
		Remainder{Take: take, Notes: []preset.Millis{20}, Note: 100, Left: left, Step: 10, Noise: -62},
		Tones{tones},
		Motion{Take: take, Notes: []preset.Millis{20}, Speed: []float64{0.1, -0.1, math.NaN(), 0.2, 0.1}, Step: 100, Figures: &preset.Motion{WowPercent: 0.2, WowHz: 0.9}},
		Impulse{Take: take},
		Harmonics{Head: 2, Orders: orders},
		Rates{[]Rate{{0.9, 0.2, "0.9 Hz: a drum"}, {0.95, 0.1, ""}, {8.3, 0.05, ""}}},
		Transfer{Steps: steps, Gain: -3, OneDB: &one, Drive: &preset.Drive{Gain: 12, Bias: 0.1}},
		StepHarmonics{Steps: steps},
		Comparison{Echoes: []Pair{{Wanted: Single{100, 0}, Got: &Single{100.1, -0.2}}, {Wanted: Single{200, -6}}}, Extra: []Single{{150, -20}}},
	}
}

func TestEveryEchoStandsAtItsTime(t *testing.T) {
	take := someTake()
	for name, panel := range map[string]Panel{"waveform": Waveform{Take: take}, "levels": Levels{take}, "impulse": Impulse{Take: take}} {
		t.Run(name, func(t *testing.T) {
			root := page(t, panel)
			at := read(t, root, "tick-x", "x")
			echoes := root.find("echo")
			require.Len(t, echoes, len(take.Marks))
			for i, e := range echoes {
				m := take.Marks[i]
				require.InDelta(t, float64(m.At), e.number(t, "data-ms"), 0.005)
				require.Contains(t, e.tags("title")[0].Text, m.tell())
				require.Equal(t, m.name(), e.words())
				lines := e.tags("line")
				require.NotEmpty(t, lines)
				// Pixels are written in hundredths, and a pixel is under 1 ms here.
				require.InDelta(t, float64(m.At), at(lines[0].number(t, "x1")), 0.05)
			}
		})
	}
}

func TestLevelsStandAtTheirHeight(t *testing.T) {
	root := page(t, Levels{someTake()})
	db := read(t, root, "tick-y", "y")
	for _, e := range root.find("first") {
		top := math.Inf(1) // the upper end of the stem: the second line, after the leader
		for _, l := range e.tags("line")[1:2] {
			top = math.Min(l.number(t, "y1"), l.number(t, "y2"))
		}
		// Numbers stand 4 px below their line, see ruled; a pixel is 0.3 dB here and
		// they are written in hundredths.
		require.InDelta(t, e.number(t, "data-db"), db(top+4), 0.01)
	}
}

func TestBarsReachTwoDeviations(t *testing.T) {
	root := page(t, Levels{someTake()})
	at, db := read(t, root, "tick-x", "x"), read(t, root, "tick-y", "y")
	first, second := root.find("first")[0], root.find("first")[1]
	require.Empty(t, first.find("bar"), "0.06 ms and 0.1 dB are smaller than the sign")
	bars := second.find("bar")
	require.Len(t, bars, 2, "one for the time, one for the level")
	time, level := bars[0].tags("line")[0], bars[1].tags("line")[0]
	require.InDelta(t, 263-2*4, at(time.number(t, "x1")), 0.05)
	require.InDelta(t, 263+2*4, at(time.number(t, "x2")), 0.05)
	require.InDelta(t, -3.4-2*1.2, db(level.number(t, "y1")+4), 0.05)
	require.InDelta(t, -3.4+2*1.2, db(level.number(t, "y2")+4), 0.05)
}

func TestHeadsAreListedWithTheirFigures(t *testing.T) {
	list := page(t, Levels{someTake()}).find("entry")
	require.Len(t, list, 3, "first echoes alone")
	require.Equal(t, "head 2: 121.50 ± 0.06 ms, −7.0 ± 0.1 dB", list[0].words())
	require.Equal(t, "head 6: 405.25 ms, −2.0 dB", list[2].words())
}

func TestWantedAndGotStandSideBySide(t *testing.T) {
	root := page(t, Comparison{
		Echoes: []Pair{
			{Wanted: Single{100, 0}, Got: &Single{100.1, -0.2}},
			{Wanted: Single{200, -6}},
		},
		Extra: []Single{{150, -20}, {170, -300}},
	})
	at := read(t, root, "tick-x", "x")
	middleOf := func(class string) float64 {
		bars := root.find(class)
		require.Len(t, bars, 1, class)
		path := bars[0].tags("path")[0].attr("d")
		var x1, y1, x2, y2 float64
		_, err := fmt.Sscanf(strings.NewReplacer("M", "", "L", " ").Replace(path), "%f %f %f %f", &x1, &y1, &x2, &y2)
		require.NoError(t, err, path)
		if class == "missing" { // it begins below, goes up, then across
			_, err = fmt.Sscanf(strings.NewReplacer("M", "", "L", " ").Replace(path), "%f %f %f %f %f", &x1, &y1, &x1, &y2, &x2)
			require.NoError(t, err, path)
		}
		return at((x1 + x2) / 2)
	}
	// Pixels are written in hundredths, and a pixel is under 0.3 ms here. The bar at
	// −300 dB lies below the scale and is not drawn.
	require.InDelta(t, 100, middleOf("wanted"), 0.01)
	require.InDelta(t, 100.1, middleOf("got"), 0.01)
	require.InDelta(t, 200, middleOf("missing"), 0.01)
	require.InDelta(t, 150, middleOf("extra"), 0.01)
	require.Equal(t, "wanted 200.00 ms, −6.0 dB; not to be had", root.find("pair")[1].tags("title")[0].Text)
}

func TestTextIsEscaped(t *testing.T) {
	title := "a </title><script>alert(1)</script> & \x1b[2J \x00 ü"
	text, err := SVG(title, Waveform{Take: someTake()})
	require.NoError(t, err)
	require.NotContains(t, string(text), "<script")
	require.Equal(t, strings.NewReplacer("\x1b", "\uFFFD", "\x00", "\uFFFD").Replace(title), parse(t, text).tags("title")[0].Text)
}

func TestNothingToShowIsStillADrawing(t *testing.T) {
	for _, p := range []Panel{
		Waveform{}, Levels{}, Remainder{}, Tones{}, Motion{}, Impulse{}, Harmonics{}, Rates{}, Transfer{}, StepHarmonics{}, Comparison{},
	} {
		t.Run(fmt.Sprintf("%T", p), func(t *testing.T) {
			root := page(t, p)
			require.Len(t, root.find("panel"), 1)
			image, err := PNG("empty", p)
			require.NoError(t, err)
			require.NotEmpty(t, image)
		})
	}
	silent := preset.Decibels(math.Inf(-1))
	page(t, Comparison{Echoes: []Pair{{Wanted: Single{10, silent}, Got: &Single{10, silent}}}})
}

func TestNamesOfMarks(t *testing.T) {
	for want, m := range map[string]Mark{
		"head 2: 121.00 ms, −7.0 dB to the direct sound":                         {At: 121, Level: -7, Head: 2},
		"head 2, repeat 3: 526.00 ± 0.25 ms, −14.1 ± 0.5 dB to the direct sound": {At: 526, SD: 0.25, Level: -14.1, LevelSD: 0.5, Head: 2, Turn: 3},
		"head 1: 83.350 ± 0.002 ms, −3.20 ± 0.03 dB to the direct sound":         {At: 83.35, SD: 0.0021, Level: -3.2, LevelSD: 0.031, Head: 1},
	} {
		require.Equal(t, want, m.tell())
	}
	require.Contains(t, page(t, Waveform{Take: someTake()}).words(), "2·1 is head 2's sound after 1 more turn round the loop.")
}
