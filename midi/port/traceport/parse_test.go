package traceport_test

import (
	"errors"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
	"echowright/midi/port/traceport"
)

const head = "echowright-trace/1 began 2026-03-14T20:15:03.25Z\n"

func TestParse(t *testing.T) {
	for _, tc := range []struct{ name, text, want string }{
		{"nothing passed", "", ""},
		{"remarks, empty lines, more spaces, another end of line", "# a word\n\n0.000001   >  F0 7D F7# who?\r\n   # 0.5 > F8\n0.000001 < F7   \n", "> F0 7D F7 | < F7"},
		{"lines of one way are one exchange", "0.000000 > F0\n0.000000 > F7\n1.000000 > F8\n", "> F0 F7 F8"},
		{"gone", "0.000000 < F0\n0.500000 gone  # pulled\n", "< F0 | gone"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			got, err := traceport.Parse(strings.NewReader(head + tc.text))
			require.NoError(t, err)
			var want []port.Exchange
			if tc.want != "" {
				want = conversation(t, tc.want)
			}
			require.Equal(t, want, got)
		})
	}
}

func TestParseSaysWhatIsWrong(t *testing.T) {
	for _, tc := range []struct {
		text         string
		line, column int
		want         string
	}{
		{"", 1, 1, `it begins with "": the first line of a trace begins with echowright-trace/1`},
		{"echowright-trace/2 began 2026-03-14T20:15:03Z\n", 1, 1, `begins with "echowright-trace/2"`},
		{"echowright-trace/1\n", 1, 19, `"": wanted the word began`},
		{"echowright-trace/1 began now\n", 1, 26, `"now" is no time: wanted one such as 2026-03-14T20:15:03Z`},
		{"echowright-trace/1 began 2026-03-14T20:15:03Z here\n", 1, 47, "the first line ends with the time"},
		{head + "> F0\n", 2, 1, `">": a line begins with seconds since the beginning, six digits behind the point, such as 0.250000; a remark begins with #`},
		{head + "0.5 > F0\n", 2, 1, `"0.5"`},
		{head + "-1.000000 > F0\n", 2, 1, `"-1.000000"`},
		{head + "0.000002 > F0\n0.000001 > F7\n", 3, 1, "the time lies before that of an earlier line"},
		{head + "0.000000 F0 7D\n", 2, 10, `"F0": wanted > for bytes to the device, < for bytes from it, or gone`},
		{head + "0.000000 >\n", 2, 11, "no bytes: leave the line out"},
		{head + "0.000000 > F0 7 F7\n", 2, 15, `"7": write each byte as two digits`},
		{head + "0.000000 > F0 f7\n", 2, 15, `"f7": write each byte as two digits 0 to 9 or A to F`},
		{head + "0.000000 > F07D\n", 2, 12, `"F07D"`},
		{head + "0.000000 > F0 identity request\n", 2, 15, "what is for people behind #"},
		{head + "0.000000 gone F0\n", 2, 15, "nothing but a remark behind # stands behind gone"},
		{head + "0.000000 > F0 G7 F7", 2, 15, `"G7"`},
	} {
		t.Run(tc.text, func(t *testing.T) {
			_, err := traceport.Parse(strings.NewReader(tc.text))
			var wrong *traceport.SyntaxError
			require.ErrorAs(t, err, &wrong)
			require.Contains(t, wrong.Problem, tc.want)
			require.Equal(t, []int{tc.line, tc.column}, []int{wrong.Line, wrong.Column})
		})
	}
	_, err := traceport.Parse(strings.NewReader(head + "0.5 > F0\n"))
	require.ErrorContains(t, err, "trace: line 2, column 1: ")
	broken := errors.New("the disk hums")
	_, err = traceport.Parse(iotest.ErrReader(broken))
	require.ErrorIs(t, err, broken)
}

// A trace may end at any byte: what is there whole is read, and the end is told.
func TestATornTrace(t *testing.T) {
	const text = head + "0.000001 > F0 7D F7  # who?\n0.000002 < F0 7D 05 F7  # I\n"
	all := "F0 7D F7 F0 7D 05 F7"
	for n := len(head); n < len(text); n++ {
		got, err := traceport.Parse(strings.NewReader(text[:n]))
		if text[n-1] == '\n' {
			require.NoError(t, err, text[:n])
		} else {
			var torn *traceport.TornError
			require.ErrorAs(t, err, &torn, text[:n])
			require.Equal(t, strings.Count(text[:n], "\n")+1, torn.Line)
		}
		var bytes []byte
		for _, e := range got {
			bytes = append(bytes, e.Bytes...)
		}
		require.True(t, strings.HasPrefix(all, hexOf(bytes)), text[:n])
	}
	_, err := traceport.Parse(strings.NewReader(head + "0.000001 > F0 7"))
	require.EqualError(t, err, "trace: line 2 has no end: the program that wrote it was stopped there; what stands before is whole")
}

// Whatever stands in a file: no panic, and what was understood can be played.
func FuzzParse(f *testing.F) {
	for _, seed := range []string{
		"", head, head + "0.000001 > F0 7D F7  # who?\n0.000002 < F0 7D 05 F7\n1.000000 gone\n", head + "0.000001 > F0 7", head + "0.1 < F0\n", head + "\n#\n0.000000 < 00\r\n",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := traceport.Parse(strings.NewReader(text))
		for i, e := range got {
			require.True(t, len(e.Bytes) > 0 || !e.Sent, "exchange %d", i)
		}
		if err == nil {
			require.True(t, strings.HasPrefix(strings.TrimLeft(text, " "), "echowright-trace/1 "))
		}
	})
}
