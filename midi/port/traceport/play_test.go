package traceport_test

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port"
	"echowright/midi/port/porttest"
	"echowright/midi/port/traceport"
	"echowright/midi/transfer"
)

func hexOf(b []byte) string { return midi.Hex(b) }

// written is the path of a trace with that text.
func written(t *testing.T, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "a.trace")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	return path
}

func TestPlayedConformance(t *testing.T) {
	porttest.RunSilent(t, func(t *testing.T) port.Port {
		p, err := traceport.Open(t.Context(), written(t, head))
		require.NoError(t, err)
		return p
	})
}

func TestOpen(t *testing.T) {
	p, err := traceport.Open(t.Context(), written(t, head+"0.000001 > F0 7D F7\n0.000002 < F8\n0.000002 < F0\n0.500000 gone\n"))
	require.NoError(t, err)
	require.NoError(t, p.Send(t.Context(), unhex(t, "F0 7D F7")))
	got, err := p.Receive(t.Context())
	require.NoError(t, err)
	require.Equal(t, "F8 F0", hexOf(got))
	_, err = p.Receive(t.Context())
	require.ErrorIs(t, err, port.ErrGone)
	require.NoError(t, p.Close())
}

func TestOpenSaysWhatIsWrong(t *testing.T) {
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	nowhere := filepath.Join(t.TempDir(), "none.trace")
	_, err := traceport.Open(t.Context(), nowhere)
	require.ErrorIs(t, err, port.ErrNotThere)
	require.ErrorContains(t, err, "port trace:"+nowhere+": opening: there is no such port")
	require.ErrorContains(t, err, "--trace")
	broken := written(t, head+"now > F0\n")
	_, err = traceport.Open(t.Context(), broken)
	require.ErrorContains(t, err, "port trace:"+broken+": opening: trace: line 2, column 1: ")
	_, err = traceport.Open(ended, broken)
	require.ErrorIs(t, err, context.Canceled)
	_, err = traceport.Open(t.Context(), t.TempDir())
	require.Error(t, err, "a folder")
}

func TestTheLineIsNamedThatDiffers(t *testing.T) {
	const text = head + "# who is there\n0.000001 > F0 7D F7\n0.000002 < F8\n0.000003 > B0 07\n0.000004 < F8\n0.000005 > 64\n"
	for _, tc := range []struct{ name, text, send, want string }{
		{"in the first message", text, "F0 7E", "1 of 2 bytes went: line 3 of the trace: byte 1 sent is 7E: it was 7D in the recorded conversation; the trace is of another version"},
		{"in the second half of the second", text, "F0 7D F7 B0 07 65", "line 7 of the trace: byte 5 sent is 65: it was 64"},
		{"behind the end", text, "F0 7D F7 B0 07 64 B0", "the trace ends with line 7: byte 6 sent is B0: nothing more was sent"},
		{"behind a torn end", text + "0.000006 > B", "F0 7D F7 B0 07 64 B0", "the trace ends with line 8: byte 6 sent is B0: nothing more was sent in the recorded conversation; trace: line 8 has no end"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			p, err := traceport.Open(t.Context(), written(t, tc.text))
			require.NoError(t, err)
			err = p.Send(t.Context(), unhex(t, tc.send))
			require.ErrorContains(t, err, tc.want)
			var deviation *port.DeviationError
			require.ErrorAs(t, err, &deviation)
		})
	}
}

// A conversation with everything that a line has is written and played again:
// the program hears the same, and does the same.
func TestATraceBecomesATest(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		steps := []midi.Step{asked(1), asked(2), asked(3)}
		var out bytes.Buffer
		near, far := port.Pipe("cable")
		w := traceport.NewWriter(&out, time.Now(), nil)
		link := transfer.Open(w.Port(near), transfer.Options{Trace: remarks(w)})
		answers := device(t, far)
		first, err := link.Run(t.Context(), steps)
		require.NoError(t, err)
		require.NoError(t, link.Close())
		require.NoError(t, far.Close())
		<-answers
		require.Equal(t, []int{2, 1, 1}, tries(first), "one answer was lost")
		require.Contains(t, out.String(), "ask 1: no answer, sent again")

		p, err := traceport.Open(t.Context(), written(t, out.String()))
		require.NoError(t, err)
		link = transfer.Open(p, transfer.Options{})
		again, err := link.Run(t.Context(), steps)
		require.NoError(t, err)
		require.NoError(t, link.Close())
		require.Equal(t, tries(first), tries(again))
		require.Equal(t, first.Bytes, again.Bytes)
		for i := range first.Replies {
			require.Equal(t, first.Replies[i].Message, again.Replies[i].Message)
		}
	})
}

func remarks(w *traceport.Writer) func(transfer.TraceEvent) {
	return func(e transfer.TraceEvent) {
		if e.Dir == transfer.Remark {
			w.Remark(e.At, e.Note)
		}
	}
}

func tries(r transfer.Result) []int {
	var out []int
	for _, reply := range r.Replies {
		out = append(out, reply.Tries)
	}
	return out
}

func asked(n byte) midi.Step {
	return midi.Step{
		What: "ask " + string('0'+n), Send: []byte{0xF0, 0x7D, n, 0xF7}, Timeout: 100 * time.Millisecond,
		Answers: []midi.Answer{{Match: midi.Exactly([]byte{0xF0, 0x7D, 0x7F, n, 0xF7}), Means: midi.Done}},
	}
}

// device answers F0 7D n F7 with F0 7D 7F n F7, between clocks and rubbish, but
// for the very first time.
func device(t *testing.T, far port.Port) <-chan struct{} {
	over := make(chan struct{})
	go func() {
		defer close(over)
		var f midi.Framer
		heard := 0
		for {
			b, err := far.Receive(context.Background())
			if err != nil {
				return
			}
			f.Feed(b, func(m midi.Frame) {
				if heard++; heard > 1 {
					_ = far.Send(t.Context(), []byte{0xF8, 0x01, 0x90, 0x3C, 0x40, 0xF0, 0x7D, 0x7F, 0xF8, m.Bytes[2], 0xF7, 0xF0, 0x01, 0xF8, 0xF6})
				}
			})
		}
	}()
	return over
}
