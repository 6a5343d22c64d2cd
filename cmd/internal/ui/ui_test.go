package ui

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/creack/pty"
	"github.com/stretchr/testify/require"

	"echowright/preset/picture"
)

func environment(pairs map[string]string) func(string) string {
	return func(key string) string { return pairs[key] }
}

func TestOnlyATerminalGetsColour(t *testing.T) {
	leader, terminal, err := pty.Open()
	if err != nil {
		t.Skipf("SKIP: no pseudo-terminal here: %v", err)
	}
	defer leader.Close()
	defer terminal.Close()
	require.NoError(t, pty.Setsize(terminal, &pty.Winsize{Rows: 24, Cols: 100}))
	file, err := os.Create(t.TempDir() + "/result")
	require.NoError(t, err)
	defer file.Close()
	for name, c := range map[string]struct {
		screen Screen
		width  int
		colour bool
	}{
		"terminal":                 {Open(terminal, environment(map[string]string{"TERM": "xterm"})), 100, true},
		"terminal, colour unasked": {Open(terminal, environment(map[string]string{"TERM": "xterm", "NO_COLOR": "1"})), 100, false},
		"terminal without any":     {Open(terminal, environment(map[string]string{"TERM": "dumb"})), 100, false},
		"terminal of no kind":      {Open(terminal, environment(nil)), 100, false},
		"file":                     {Open(file, environment(map[string]string{"TERM": "xterm"})), 0, false},
		"buffer":                   {Open(&bytes.Buffer{}, environment(map[string]string{"TERM": "xterm"})), 0, false},
	} {
		t.Run(name, func(t *testing.T) {
			require.Equal(t, c.width, c.screen.Width)
			require.Equal(t, c.width > 0, c.screen.Terminal())
			want := "words"
			if c.colour {
				want = "\x1b[31mwords\x1b[0m" // ECMA-48: SGR 31 is red, 0 the default
			}
			require.Equal(t, want, c.screen.Tinted("words", Bad))
		})
	}
}

func TestControlCharactersAreShownNotObeyed(t *testing.T) {
	for in, want := range map[string]string{
		"plain":          "plain",
		"Größe ü 日本":     "Größe ü 日本",
		"\x1b[2Jgone":    `\x1b[2Jgone`,
		"two\nlines":     `two\nlines`,
		"\x9b31m":        `\x9b31m`,       // the one-byte form of ESC [, no UTF-8
		"a\u009b31m":     `a\u009b31m`,    // the same as a code point
		"\u202etxt.exe":  `\u202etxt.exe`, // right-to-left override
		"\x00\x07\x7f\r": `\x00\a\x7f\r`,
		"bad \xff utf":   `bad \xff utf`,
		"\ufffd":         "\ufffd", // written out, as some program before us did
	} {
		require.Equal(t, want, Line(in))
	}
	require.Equal(t, "two\nlines\tand \\x1b", Lines("two\nlines\tand \x1b"))
}

func FuzzLine(f *testing.F) {
	f.Add("\x1b]0;title\a")
	f.Add("\xc2\x9b\xe2\x80\xae")
	f.Fuzz(func(t *testing.T, s string) {
		got := Line(s)
		if !utf8.ValidString(got) {
			t.Fatalf("%q is no text", got)
		}
		for _, r := range got {
			if !unicode.IsPrint(r) {
				t.Fatalf("%q still holds %U", got, r)
			}
		}
	})
}

func TestNumbers(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{Fixed(-0.001, 2), "0.00"},
		{Fixed(-0.5, 1), "-0.5"},
		{Fixed(121.456, 1), "121.5"},
		{Fixed(math.Inf(-1), 1), "-Inf"},
		{Signed(1.25, 2), "+1.25"},
		{Signed(-1.25, 2), "-1.25"},
		{Signed(0.001, 2), "0.00"},
		{PlusMinus(5, 0, 1), "5.0"},
		{PlusMinus(5, 0.25, 2), "5.00 ± 0.25"},
		{Count(1, "echo", "echoes"), "1 echo"},
		{Count(0, "echo", "echoes"), "0 echoes"},
	} {
		require.Equal(t, c.want, c.got)
	}
}

func TestTable(t *testing.T) {
	table := Table{Titles: []string{">head", "note", ">off ms"}}
	table.Add(2, "1/8.", "-0.25")
	table.Add(10, "dünn\x1b", "+12.00")
	table.Add(3, "", "")
	var out bytes.Buffer
	table.Print(Plain(&out))
	require.Equal(t, strings.Join([]string{
		"head  note      off ms",
		"   2  1/8.       -0.25",
		`  10  dünn\x1b  +12.00`,
		"   3",
		"",
	}, "\n"), out.String())
}

func TestTableWithColourLinesUpAlike(t *testing.T) {
	table := Table{Titles: []string{"a", "b"}}
	table.Add("xx", "y")
	var out bytes.Buffer
	table.Print(Screen{Writer: &out, Width: 80, Colour: true})
	require.Equal(t, "\x1b[1ma   b\x1b[0m\nxx  y\n", out.String())
}

func TestJSONIsOneValueAndKeepsItsSigns(t *testing.T) {
	var out bytes.Buffer
	require.NoError(t, JSON(&out, map[string]any{"note": "<1/8.> & ü", "gone": nil}))
	require.Equal(t, "{\n  \"gone\": null,\n  \"note\": \"<1/8.> & ü\"\n}\n", out.String())
	require.ErrorContains(t, JSON(&out, math.NaN()), "writing JSON")
	require.ErrorContains(t, JSON(full{}, 1), "no room")
	var back map[string]any
	require.NoError(t, json.Unmarshal(out.Bytes(), &back))
}

// full is a disk without room.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no room") }

func TestProgressShowsAfterASecondAndOnATerminalOnly(t *testing.T) {
	for _, c := range []struct {
		name   string
		width  int
		passed time.Duration
		shown  bool
	}{
		{"terminal, long work", 80, 1100 * time.Millisecond, true},
		{"terminal, short work", 80, 900 * time.Millisecond, false},
		{"file, long work", 0, time.Hour, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			now := time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)
			var out bytes.Buffer
			p := Screen{Writer: &out, Width: c.width}.Progress("measuring", func() time.Time { return now })
			p.Set(0.1)
			now = now.Add(c.passed)
			p.Set(0.5)
			shown := out.String()
			p.End()
			ended := out.Len()
			p.Set(0.6)
			require.Len(t, out.Bytes(), ended, "after its end it says no more")
			require.Equal(t, c.shown, strings.Contains(shown, "measuring") && strings.Contains(shown, "50%"), "%q", shown)
			if !c.shown {
				require.Empty(t, out.String())
			}
		})
	}
}

// clickAndEcho is a click at the start and one of half its height (−6 dB) later.
func clickAndEcho(rate, ms float64) picture.Take {
	t := picture.Take{Rate: 8000, Samples: make([]float64, 8000)}
	t.Samples[0], t.Samples[int(ms*rate/1000)] = 1, 0.5
	t.Marks = []picture.Mark{{At: 300, Head: 4}, {At: 600, Head: 4, Turn: 1}}
	return t
}

func TestTheDrawingShowsSoundMarksAndTime(t *testing.T) {
	const width = 81
	lines := strings.Split(strings.TrimSuffix(Drawing(clickAndEcho(8000, 300), width), "\n"), "\n")
	require.Len(t, lines, drawnLines+3)
	sound, signs, names, times := lines[:drawnLines], []rune(lines[drawnLines]), []rune(lines[drawnLines+1]), lines[drawnLines+2]
	// The axis runs from −4 % to 108 % of 600 ms: −25.9 to 648 ms, 8.32 ms a column.
	note, echo, repeat := 3, 39, 75
	require.Equal(t, '▲', signs[echo])
	require.Equal(t, '·', signs[repeat])
	require.Equal(t, '4', names[echo])
	require.Equal(t, '█', []rune(sound[0])[note], "the loudest reaches the top")
	// −6 dB of 54 dB are 43 of 48 eighths: three eighths in the sixth line.
	require.Equal(t, '▃', []rune(sound[0])[echo])
	require.Equal(t, '█', []rune(sound[1])[echo])
	require.Contains(t, times, "100")
	require.True(t, strings.HasSuffix(times, " ms"))
}

func TestTimesAreWholeOrNotThere(t *testing.T) {
	for width := narrowest; width < 120; width++ {
		rows := strings.Split(strings.TrimSuffix(Drawing(clickAndEcho(8000, 300), width), "\n"), "\n")
		times := strings.Fields(rows[len(rows)-1])
		require.Equal(t, "ms", times[len(times)-1], "width %d", width)
		for i, word := range times[:len(times)-1] {
			ms, err := strconv.Atoi(word)
			require.NoError(t, err, "width %d", width)
			require.Equal(t, i == 0, ms == 0)
			require.Zero(t, ms%50, "width %d: %d", width, ms)
			require.LessOrEqual(t, ms, 650)
		}
	}
}

func TestTheDrawingFitsAnyWidthAndHoldsNoControlCharacters(t *testing.T) {
	takes := []picture.Take{clickAndEcho(8000, 300), {}, {Rate: 8000, Samples: make([]float64, 100)},
		{Rate: 8000, Samples: []float64{math.NaN(), 1, math.Inf(1)}}}
	for _, take := range takes {
		for _, width := range []int{-1, 0, 1, 20, 79, 300} {
			for line := range strings.SplitSeq(Drawing(take, width), "\n") {
				require.LessOrEqual(t, utf8.RuneCountInString(line), max(width, narrowest))
				require.Equal(t, line, Line(line))
			}
		}
	}
}
