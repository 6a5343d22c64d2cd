package cli

import (
	"bytes"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"echowright/cmd/internal/ui"
	"echowright/preset"
)

func sixHeads() preset.Unit {
	var u preset.Unit
	for h := 1; h <= 6; h++ {
		u.Heads = append(u.Heads, preset.Head{Head: h, Delay: preset.Millis(100 * h), DelaySD: 0.01, Level: -1, LevelSD: 0.05, HighCutHz: 3200})
	}
	return u
}

func TestTablesFitTheTerminal(t *testing.T) {
	for _, width := range []int{0, 40, 60, 80, 200} {
		var out bytes.Buffer
		c := &call{out: ui.Screen{Writer: &out, Width: width}}
		c.printHeads(sixHeads())
		widest := 0
		for line := range strings.Lines(out.String()) {
			widest = max(widest, utf8.RuneCountInString(strings.TrimRight(line, "\n")))
		}
		if width > 0 {
			require.LessOrEqual(t, widest, width)
		}
		tables := strings.Count(out.String(), "head")
		switch {
		case width == 0 || width >= 80:
			require.Equal(t, 1, tables, "width %d", width)
		default:
			require.Greater(t, tables, 1, "width %d: told which row is which", width)
		}
		for _, cell := range []string{"head", "delay ms", "level dB", "polarity", "low cut Hz", "high cut Hz", "600.00 ± 0.01", "3200"} {
			require.Contains(t, out.String(), cell, "width %d: nothing is lost", width)
		}
	}
}

func TestFoldingOddTables(t *testing.T) {
	require.Len(t, folded(ui.Table{}, 10), 1)
	require.Len(t, folded(ui.Table{Titles: []string{"one"}}, 1), 1)
	ragged := ui.Table{Titles: []string{"a", "b", "much too wide for it"}, Rows: [][]string{{"1"}, {"1", "2", "3"}}}
	parts := folded(ragged, 8)
	require.Len(t, parts, 2)
	require.Equal(t, []string{"a", "much too wide for it"}, parts[1].Titles)
	require.Equal(t, [][]string{{"1", ""}, {"1", "3"}}, parts[1].Rows)
}
