package picture

import (
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// written is a text of a drawing and the box it may fill.
type written struct {
	words string
	box   box
	named bool // stands in a strip of names
}

// texts reads every text with its box back out of a drawing.
func texts(t testing.TB, root node) []written {
	t.Helper()
	w, err := newWriter()
	require.NoError(t, err)
	named := map[string]bool{}
	for _, n := range root.find("name") {
		x := n.tags("text")[0]
		named[x.attr("x")+" "+x.attr("y")] = true
	}
	var all []written
	for _, n := range root.tags("text") {
		one := text{at: point{n.number(t, "x"), n.number(t, "y")}, words: n.Text}
		for i, f := range faces {
			if n.has(f.class) {
				one.face = face(i)
			}
		}
		switch n.attr("text-anchor") {
		case "middle":
			one.anchor = middle
		case "end":
			one.anchor = ends
		}
		all = append(all, written{n.Text, w.boxOf(one), named[n.attr("x")+" "+n.attr("y")]})
	}
	return all
}

// neat fails where a text meets another or leaves the page.
func neat(t testing.TB, root node) {
	t.Helper()
	width, height := root.number(t, "width"), root.number(t, "height")
	all := texts(t, root)
	for i, a := range all {
		require.Truef(t, a.box.left >= 0 && a.box.right <= width && a.box.top >= 0 && a.box.bottom <= height, "%q leaves the page: %v", a.words, a.box)
		for _, b := range all[i+1:] {
			require.Falsef(t, a.box.meets(b.box), "%q at %v meets %q at %v", a.words, a.box, b.words, b.box)
		}
	}
}

// untouched fails where an upright line goes through a name.
func untouched(t testing.TB, root node) {
	t.Helper()
	for _, l := range root.tags("line") {
		x, y1, y2 := l.number(t, "x1"), l.number(t, "y1"), l.number(t, "y2")
		if x != l.number(t, "x2") {
			continue
		}
		for _, w := range texts(t, root) {
			if w.named && x > w.box.left && x < w.box.right && math.Min(y1, y2) < w.box.bottom-1 && math.Max(y1, y2) > w.box.top+1 {
				t.Fatalf("the line at %v goes through %q", x, w.words)
			}
		}
	}
}

func TestWordsNeverMeet(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	takes := map[string]Take{"some": someTake(), "no echo": {Rate: 8000, Samples: make([]float64, 8000)}}
	for _, heads := range []int{1, 2, 3, 6, 12, 16} {
		for turns := range 4 {
			takes[fmt.Sprintf("%d heads, %d turns", heads, turns)] = crowded(heads, turns, random)
		}
	}
	for name, take := range takes {
		t.Run(name, func(t *testing.T) {
			for _, p := range everyPanel(take) {
				neat(t, page(t, p))
			}
			for _, p := range []Panel{Waveform{Take: take}, Levels{take}, Impulse{Take: take}} {
				untouched(t, page(t, p))
			}
		})
	}
}

// Heads two milliseconds apart, as on a worn drum, each have a name of their own.
func TestEveryHeadHasAName(t *testing.T) {
	var take Take
	for h := range 16 {
		take.Marks = append(take.Marks, Mark{At: preset.Millis(200 + 2*h), Head: h + 1})
	}
	take.Marks = append(take.Marks, Mark{At: 2000, Head: 16, Turn: 1})
	root := page(t, Waveform{Take: take})
	words := map[string]bool{}
	for _, n := range root.find("name") {
		words[n.words()] = true
	}
	for h := range 16 {
		require.True(t, words[fmt.Sprintf("head %d", h+1)], "head %d", h+1)
	}
	neat(t, root)
	untouched(t, root)
}

func TestRepeatsWithoutANameAreCounted(t *testing.T) {
	take := crowded(12, 6, rand.New(rand.NewPCG(3, 3)))
	root := page(t, Waveform{Take: take})
	named := len(root.find("name")) - 1 // that of the note
	require.Less(t, named, len(take.Marks))
	require.Contains(t, root.words(), fmt.Sprintf("%d repeats stand too crowded to be named", len(take.Marks)-named))
}

func TestTheWholePageIsNeat(t *testing.T) {
	take := someTake()
	root := page(t, everyPanel(take)...)
	neat(t, root)
	require.Len(t, root.find("panel"), len(everyPanel(take)))
	bottom := 0.0
	for _, f := range root.find("frame-of-panel") {
		var top, low float64
		numbers := regexp.MustCompile(`[-0-9.]+`).FindAllString(f.tags("path")[0].attr("d"), -1)
		top, _ = strconv.ParseFloat(numbers[1], 64)
		low, _ = strconv.ParseFloat(numbers[5], 64)
		require.Greater(t, top, bottom, "panels do not cover each other")
		require.Greater(t, low, top)
		bottom = low
	}
}

func TestEveryAxisHasNumbersAndAUnit(t *testing.T) {
	unit := regexp.MustCompile(`\b(milliseconds|seconds|dB|Hz)\b|%`)
	for _, p := range everyPanel(someTake()) {
		t.Run(fmt.Sprintf("%T", p), func(t *testing.T) {
			root := page(t, p)
			require.GreaterOrEqual(t, len(root.find("tick-x")), 4)
			require.GreaterOrEqual(t, len(root.find("tick-y")), 3)
			axes := root.all(func(n node) bool { return strings.HasSuffix(n.Text, " →") || strings.HasPrefix(n.Text, "↑ ") })
			require.Len(t, axes, 2)
			for _, a := range axes {
				require.Regexp(t, unit, a.Text)
			}
			texts := root.tags("text")
			require.Regexp(t, `\.$`, texts[len(texts)-1].Text, "a sentence stands below each panel")
		})
	}
}

func TestNoWordsAreTooSmall(t *testing.T) {
	const least = 11 // px: readable on a usual screen (common practice, no source)
	for _, f := range faces {
		require.GreaterOrEqual(t, f.size, float64(least))
	}
	sizes := regexp.MustCompile(`font-size:([0-9.]+)px`).FindAllStringSubmatch(style(), -1)
	require.Len(t, sizes, len(faces))
	for _, s := range sizes {
		v, err := strconv.ParseFloat(s[1], 64)
		require.NoError(t, err)
		require.GreaterOrEqual(t, v, float64(least))
	}
}

func TestLinesBreakBetweenWords(t *testing.T) {
	w, err := newWriter()
	require.NoError(t, err)
	const words = "what the unit does not explain lies far below the take"
	lines := w.lines(words, plain, 120)
	require.Equal(t, words, strings.Join(lines, " "))
	require.Greater(t, len(lines), 2)
	for _, l := range lines {
		require.LessOrEqual(t, w.width(l, plain), 120.0)
	}
	require.Empty(t, w.lines(" ", plain, 120))
	require.Equal(t, []string{"unbreakable"}, w.lines("unbreakable", plain, 10))
}

// Liberation Sans has the widths of Helvetica, of which the letter "a" is 556 and
// "i" 222 thousandths of the size wide (Adobe Font Metrics of the PostScript core
// fonts).
func TestWordsAreMeasuredByTheirFont(t *testing.T) {
	w, err := newWriter()
	require.NoError(t, err)
	require.InDelta(t, 13*0.556, w.drawn("a", plain), 0.01)
	require.InDelta(t, 13*0.222, w.drawn("i", plain), 0.01)
	require.Greater(t, w.width("a", plain), w.drawn("a", plain), "there is room for wider fonts")
}

// Where there is room for all, heads make way for their repeats.
func TestEveryEchoHasANameWhereThereIsRoom(t *testing.T) {
	var take Take
	for turn := range 7 {
		for h := range 4 {
			take.Marks = append(take.Marks, Mark{At: preset.Millis(95*(h+1) + 381*turn), Head: h + 1, Turn: turn})
		}
	}
	for _, p := range []Panel{Waveform{Take: take}, Levels{take}} {
		root := page(t, p)
		require.Len(t, root.find("name"), 1+len(take.Marks), "the note and every echo")
		require.NotContains(t, root.words(), "too crowded")
		neat(t, root)
		untouched(t, root)
	}
}
