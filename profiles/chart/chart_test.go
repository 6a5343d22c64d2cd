package chart

import (
	"encoding/xml"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/profiles"
)

func shipped(t *testing.T, name string) Chart {
	t.Helper()
	d, err := profiles.Shipped(name)
	require.NoError(t, err)
	return Of(d)
}

func (c Chart) row(t *testing.T, parameter string) Row {
	t.Helper()
	for _, r := range c.Rows {
		if r.Parameter == parameter {
			return r
		}
	}
	require.Fail(t, "no such row", parameter)
	return Row{}
}

func (c Chart) fact(name string) string {
	for _, f := range c.Facts {
		if f.Name == name {
			return f.Says
		}
	}
	return ""
}

// What stands in the charts is what the manuals of the example hardware say.
func TestAChartSaysWhatTheManualSays(t *testing.T) {
	c := shipped(t, "five-line")
	r := c.row(t, "a-time")
	require.Equal(t, "0-16000", r.Codes)
	require.Equal(t, "0 ms (code 0) to 1600 ms (code 16000), 0.1 ms apart", r.Meaning)
	r = c.row(t, "a-level")
	require.Equal(t, "-60 dB (code 1) to 0 dB (code 121), 0.5 dB apart", r.Meaning)
	require.Equal(t, "0 is silent", r.Remarks)
	require.Equal(t, "input, a, b, c, d, e", c.row(t, "a-source").Meaning)
	require.Contains(t, c.fact("structure"), "5 delay lines, each from a source of its choice")
	require.Equal(t, "slots 0-63, can be read back, names of 12 characters", c.fact("memory"))
	require.Contains(t, c.fact("manners"), "4ms of silence after each message")

	c = shipped(t, "tap-loop")
	require.Equal(t, "NRPN 01 00", c.row(t, "tap-0-time").SetBy)
	require.Equal(t, "CC 16", c.row(t, "tap-0-level").SetBy)
	require.Contains(t, c.fact("structure"), "one delay line with 8 taps each; one tap, by choice, is fed back, before its level")
	require.Equal(t, "slots 0-127, cannot be read back", c.fact("memory"))
	require.Equal(t, "1-16", c.fact("channels"))
	require.Equal(t, "C0 00", c.fact("load slot 0"))
	require.Equal(t, "B0 77 7F", c.fact("store in slot 127"), "CC 119, the memory for its value")

	c = shipped(t, "twin")
	require.Contains(t, c.row(t, "line-1-clocked-time").Remarks, "of the MIDI clock")
	require.Contains(t, shipped(t, "open-parameter").fact("structure"), "the sum of the taps is fed back")
}

func TestEveryShippedProfileHasARowForEachParameter(t *testing.T) {
	for _, name := range profiles.Names() {
		d, err := profiles.Shipped(name)
		require.NoError(t, err)
		c := Of(d)
		require.Len(t, c.Rows, len(d.Parameters))
		for _, r := range c.Rows {
			require.NotEmpty(t, r.SetBy, r.Parameter)
			require.NotEmpty(t, r.Meaning, r.Parameter)
			require.Contains(t, c.Text(), r.Parameter)
		}
	}
}

func TestAChartAsMarkdownHasAsManyCellsInEachRow(t *testing.T) {
	c := shipped(t, "twin")
	c.Notes = "a | b"
	text := c.Markdown()
	require.Contains(t, text, `a \| b`)
	rows := 0
	for line := range strings.Lines(text) {
		if strings.HasPrefix(line, "| ") {
			rows++
			require.Equal(t, len(columns)+1, strings.Count(line, "|"), line)
		}
	}
	require.Equal(t, len(c.Rows)+2, rows, "titles, the line below them, parameters")
}

func TestAChartAsHTMLIsWellFormedAndSafe(t *testing.T) {
	c := shipped(t, "tap-loop")
	c.Notes = "<script>alert(1)</script>"
	text, err := c.HTML()
	require.NoError(t, err)
	require.NotContains(t, text, "<script>")
	require.Equal(t, len(c.Rows)+1, strings.Count(text, "<tr>"))
	decoder := xml.NewDecoder(strings.NewReader(text))
	decoder.Strict, decoder.AutoClose, decoder.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	for {
		_, err := decoder.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
	}
}
