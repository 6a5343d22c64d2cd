package cli

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/midi"
	"echowright/midi/port"
	"echowright/midi/port/traceport"
)

// What a message is called in a trace. The bytes are from the manuals of the
// example devices (profiles/*.md): five-line ends its
// messages with a sum that makes all from the command on zero in seven bits.
func TestMessagesOfATraceInWords(t *testing.T) {
	for _, c := range []struct {
		name, device string
		sent         bool
		message      []byte
		want         string
	}{
		{"a question, by what it asks", "five-line", true, []byte{0xF0, 0x7D, 0x05, 0x00, 0x20, 0x05, 0x5B, 0xF7}, "ask for slot 5"},
		{"the same from the device is no question", "five-line", false, []byte{0xF0, 0x7D, 0x05, 0x00, 0x20, 0x05, 0x5B, 0xF7}, "System Exclusive"},
		{"an answer", "five-line", false, []byte{0xF0, 0x7D, 0x05, 0x00, 0x7F, 0x22, 0x5F, 0xF7}, "the device answers: done"},
		{"who it is", "five-line", false, []byte{0xF0, 0x7E, 0x00, 0x06, 0x02, 0x7D, 0x05, 0x00, 0x01, 0x00, 0x01, 0, 0, 0, 0xF7}, ": five-line"},
		{"who another is", "twin", false, []byte{0xF0, 0x7E, 0x00, 0x06, 0x02, 0x7D, 0x05, 0x00, 0x01, 0x00, 0x01, 0, 0, 0, 0xF7}, "identity reply"},
		{"a parameter", "twin", true, []byte{0xB0, 0x54, 0x7F}, "mix = 0 dB (code 127)"},
		{"a store", "twin", true, []byte{0xB0, 0x76, 0x7F}, "what sounds is to be kept in the slot last selected"},
		{"no message of the device", "twin", true, []byte{0x90, 0x3C, 0x40}, midi.Describe([]byte{0x90, 0x3C, 0x40})},
		{"a handshake of a File Dump", "open-parameter", true, []byte{0xF0, 0x7E, 0x00, 0x7F, 0x00, 0xF7}, "acknowledged, unit 0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := shipped(t, c.device)
			n := newNaming(address{device: d, unit: d.Manners.FirstUnit})
			require.Contains(t, n.words(c.sent, c.message), c.want)
		})
	}
}

// Slots without a name, and a question that is a File Dump's request.
func TestSlotsOfATraceInWords(t *testing.T) {
	d := shipped(t, "open-parameter")
	n := newNaming(address{device: d, unit: 0})
	asking, err := d.ReadSlot(0, 3)
	require.NoError(t, err)
	step, more := asking.Next()
	require.True(t, more)
	require.Equal(t, "ask for slot 3", n.words(true, step.Send))
	steps, err := d.WriteSlotSteps(0, 3, d.AppendSlot(nil, d.Rest()))
	require.NoError(t, err)
	var told []string
	for _, s := range steps {
		told = append(told, n.words(true, s.Send))
	}
	require.Contains(t, told, "slot 3 holds a setting")
}

// Halves of a value that come in two messages are put together each way by
// itself: what the device says in between changes nothing.
func TestEachWayIsReadByItself(t *testing.T) {
	d := shipped(t, "twin")
	n := newNaming(address{device: d, unit: 1})
	n.words(true, []byte{0xB0, 0x00, 0x00})
	n.words(false, []byte{0xB0, 0x00, 0x01})
	n.words(true, []byte{0xB0, 0x20, 0x00})
	require.Equal(t, "slot 3 is to sound", n.words(true, []byte{0xC0, 0x03}))
}

// traced begins a trace in a new folder.
func traced(t *testing.T) (*call, *bytes.Buffer, *tracing) {
	t.Helper()
	var talk bytes.Buffer
	c := &call{Env: world(t), talk: ui.Plain(&talk)}
	a, err := unitFlags{}.find(newReadCommand(c), shipped(t, "five-line"), library.Rig{})
	require.NoError(t, err)
	trace, err := c.startTrace(target{address: a, trace: filepath.Join(t.TempDir(), "a.trace")})
	require.NoError(t, err)
	return c, &talk, trace
}

func TestATraceIsOnTheDiskWhileBytesPass(t *testing.T) {
	c, talk, trace := traced(t)
	near, far := port.Pipe("cable")
	p := trace.over(near)
	require.NoError(t, p.Send(t.Context(), []byte{0xF0, 0x7D, 0x05, 0x00}))
	require.Contains(t, string(readAll(t, trace.file.Name())), "> F0 7D 05 00", "a program that is killed leaves this behind")
	require.NoError(t, p.Close())
	require.NoError(t, far.Close())
	trace.end(c)
	require.Equal(t, "the conversation is in "+trace.file.Name()+"\n", talk.String())
}

func TestATraceThatIsNotWholeIsTold(t *testing.T) {
	c, talk, trace := traced(t)
	full := &brokenPipe{room: 10}
	trace.writer = traceport.NewWriter(full, c.Now(), nil)
	near, far := port.Pipe("cable")
	require.NoError(t, trace.over(near).Send(t.Context(), []byte{0xF8}), "the conversation goes on")
	require.NoError(t, errors.Join(near.Close(), far.Close()))
	trace.end(c)
	require.Contains(t, talk.String(), "warning: the trace "+trace.file.Name()+" is not whole: writing the trace: no space left on device")
}

func TestATraceInWhichNothingStandsIsTakenAway(t *testing.T) {
	_, _, trace := traced(t)
	trace.discard()
	_, err := os.Stat(trace.file.Name())
	require.ErrorIs(t, err, os.ErrNotExist)
}
