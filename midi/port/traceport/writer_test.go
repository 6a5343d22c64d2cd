package traceport_test

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port"
	"echowright/midi/port/porttest"
	"echowright/midi/port/traceport"
)

// A port that writes a trace is a port like any other.
func TestConformance(t *testing.T) {
	porttest.Run(t, porttest.Kind{Open: func(*testing.T) (port.Port, port.Port) {
		near, far := port.Pipe("cable")
		return traceport.NewWriter(&bytes.Buffer{}, time.Now(), nil).Port(near), far
	}})
}

// line is a port that takes everything and gives what it is told to.
type line struct{ gives chan []byte }

func (l line) Send(context.Context, []byte) error { return nil }
func (l line) Close() error                       { return nil }
func (l line) Receive(context.Context) ([]byte, error) {
	select {
	case b := <-l.gives:
		return b, nil
	default:
		return nil, &port.Error{Port: "line", Doing: "receiving", Err: port.ErrGone}
	}
}

// pass lets the exchanges through p, which is traced and stands before l. An
// exchange received without bytes is the end of the line.
func pass(t testing.TB, p port.Port, l line, conversation []port.Exchange) {
	t.Helper()
	for _, e := range conversation {
		switch {
		case e.Sent:
			require.NoError(t, p.Send(t.Context(), e.Bytes))
		case len(e.Bytes) == 0:
			_, err := p.Receive(t.Context())
			require.ErrorIs(t, err, port.ErrGone)
		default:
			l.gives <- e.Bytes
			got, err := p.Receive(t.Context())
			require.NoError(t, err)
			require.Equal(t, e.Bytes, got)
		}
	}
}

func unhex(t testing.TB, s string) []byte {
	t.Helper()
	b, err := midi.ParseHex(s)
	require.NoError(t, err)
	return b
}

// conversation reads "> F0 … | < F8 | gone".
func conversation(t testing.TB, s string) []port.Exchange {
	t.Helper()
	var out []port.Exchange
	for _, word := range strings.Split(s, " | ") {
		if word == "gone" {
			out = append(out, port.Exchange{})
			continue
		}
		out = append(out, port.Exchange{Sent: word[0] == '>', Bytes: unhex(t, word[1:])})
	}
	return out
}

// What the lines of a conversation look like. Where messages end is by the rules
// of the MIDI 1.0 Detailed Specification 4.2.1, appendix A-2, as in the framer's
// own tests; a millisecond passes before each exchange.
func TestLines(t *testing.T) {
	for _, tc := range []struct {
		name, passed string
		want         []string
	}{
		{"question and answer", "> F0 7E 7F 06 01 F7 | < F0 7E 05 06 02 7D 01 00 02 00 31 30 30 30 F7", []string{
			"0.001000 > F0 7E 7F 06 01 F7  # identity request, unit 127, 6 bytes",
			"0.002000 < F0 7E 05 06 02 7D 01 00 02 00 31 30 30 30 F7  # identity reply: manufacturer 7D, family 0001h, member 0002h, revision 31 30 30 30"}},
		{"messages in one piece, one in two", "> B0 07 64 0A 40 C0 | > 05", []string{
			"0.001000 > B0 07 64  # control change 7 = 100, channel 1",
			"0.001000 > 0A 40  # control change 10 = 64, channel 1",
			"0.001000 > C0 05  # program change 5, channel 1"}},
		{"real-time bytes within a message and beside it", "< F8 F0 FE 7D F8 01 F7 FE | < 90 F8 3C 40", []string{
			"0.001000 < F8  # clock",
			"0.001000 < F0 FE 7D F8 01 F7  # System Exclusive of manufacturer 7D, 4 bytes; 2 real-time bytes within",
			"0.001000 < FE  # active sensing",
			"0.002000 < 90 F8 3C 40  # note on, key 60, velocity 64, channel 1; 1 real-time byte within"}},
		{"bytes outside any message", "< 01 02 F8 F7 F4 05 F9 90 3C 40", []string{
			"0.001000 < 01 02  # 2 bytes outside any message",
			"0.001000 < F8  # clock",
			"0.001000 < F7 F4 05 F9  # 4 bytes outside any message",
			"0.001000 < 90 3C 40  # note on, key 60, velocity 64, channel 1"}},
		{"broken off", "< F0 7D 01 90 3C B0 07 F0 7D F4 01", []string{
			"0.001000 < F0 7D 01  # System Exclusive that was broken off after 3 bytes",
			"0.001000 < 90 3C  # half a message",
			"0.001000 < B0 07  # half a message",
			"0.001000 < F0 7D  # System Exclusive that was broken off after 2 bytes",
			"0.001000 < F4 01  # 2 bytes outside any message"}},
		{"the other side speaks in between", "> F0 7D 05 | < F8 | > 20 05 | < 01 | > F7", []string{
			"0.001000 > F0 7D 05  # goes on below",
			"0.002000 < F8  # clock",
			"0.003000 > 20 05  # goes on below",
			"0.004000 < 01  # 1 byte outside any message",
			"0.005000 > F7  # the rest of: System Exclusive of manufacturer 7D, 6 bytes"}},
		{"broken off after the other side spoke", "< F0 7D | > F8 | < 90 3C 40", []string{
			"0.001000 < F0 7D  # goes on below",
			"0.002000 > F8  # clock",
			"# 0.003000 the rest of: System Exclusive that was broken off after 2 bytes",
			"0.003000 < 90 3C 40  # note on, key 60, velocity 64, channel 1"}},
		{"cut off at the end", "> F0 7D | < 90", []string{
			"0.001000 > F0 7D  # goes on below",
			"0.002000 < 90  # broken off"}},
		{"the other side goes away", "< F0 7D | gone", []string{
			"0.001000 < F0 7D  # goes on below",
			"0.002000 gone  # port line: receiving: the other side went away"}},
		{"more noise than a line holds", "< 00 01 02 03 04 05 06 07 08 09 0A 0B 0C 0D 0E 0F 10", []string{
			"0.001000 < 00 01 02 03 04 05 06 07 08 09 0A 0B 0C 0D 0E 0F  # 16 bytes outside any message",
			"0.001000 < 10  # 1 byte outside any message"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				var out bytes.Buffer
				w := traceport.NewWriter(&out, time.Now(), nil)
				l := line{make(chan []byte, 1)}
				p := w.Port(l)
				for _, e := range conversation(t, tc.passed) {
					time.Sleep(time.Millisecond)
					pass(t, p, l, []port.Exchange{e})
				}
				require.NoError(t, p.Close())
				require.NoError(t, w.Err())
				lines := strings.Split(out.String(), "\n")
				require.Equal(t, append(tc.want, ""), lines[2:])
				require.Equal(t, "echowright-trace/1 began 2000-01-01T00:00:00Z", lines[0], "the bubble's beginning")

				got, err := traceport.Parse(&out)
				require.NoError(t, err)
				require.Equal(t, merged(conversation(t, tc.passed)), got)
			})
		})
	}
}

// merged puts exchanges together that went the same way.
func merged(in []port.Exchange) []port.Exchange {
	var out []port.Exchange
	for _, e := range in {
		if n := len(out); n > 0 && out[n-1].Sent == e.Sent && len(e.Bytes) > 0 && len(out[n-1].Bytes) > 0 {
			out[n-1].Bytes = append(bytes.Clone(out[n-1].Bytes), e.Bytes...)
			continue
		}
		out = append(out, e)
	}
	return out
}

func TestRemarksAndWordsOfOnesOwn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		began := time.Now()
		w := traceport.NewWriter(&out, began, func(sent bool, message []byte) string {
			if !sent {
				return ""
			}
			return "told\nin words: " + midi.Hex(message)
		})
		l := line{make(chan []byte, 1)}
		p := w.Port(l)
		time.Sleep(1500 * time.Microsecond)
		pass(t, p, l, conversation(t, "> B0 07 64 08 | < F8"))
		w.Remark(began.Add(time.Millisecond), "of a moment ago\nno answer")
		pass(t, p, l, conversation(t, "> 05"))
		require.Equal(t, []string{
			"0.001500 > B0 07 64  # told in words: B0 07 64",
			"0.001500 > 08  # goes on below",
			"0.001500 < F8",
			"# 0.001500 of a moment ago no answer",
			"0.001500 > 05  # the rest of: told in words: B0 08 05", ""}, strings.Split(out.String(), "\n")[2:])
	})
}

// eager is a device whose answer is there before Send has returned.
type eager struct {
	line
	heard chan struct{}
	sent  error
}

func (e eager) Send(_ context.Context, b []byte) error {
	e.gives <- []byte{0xF0, 0x7D, 0xF7}
	<-e.heard
	return e.sent
}

func (e eager) Receive(context.Context) ([]byte, error) { return <-e.gives, nil }

// The question stands before the answer all the same, with as much of it as went.
func TestAnAnswerBeforeSendReturns(t *testing.T) {
	for _, tc := range []struct {
		name string
		fail error
		want string
	}{
		{"all of it went", nil, "> F0 7D 05 F7 | < F0 7D F7"},
		{"two bytes of it went", &port.Error{Port: "eager", Doing: "sending", Sent: 2, Of: 4, Err: errors.New("a fuse blew")}, "> F0 7D | < F0 7D F7"},
		{"nothing of it went", port.ErrGone, "< F0 7D F7"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			var out bytes.Buffer
			w := traceport.NewWriter(&out, time.Now(), nil)
			e := eager{line: line{make(chan []byte, 1)}, heard: make(chan struct{}), sent: tc.fail}
			p := w.Port(e)
			done := make(chan error)
			go func() { done <- p.Send(t.Context(), []byte{0xF0, 0x7D, 0x05, 0xF7}) }()
			got, err := p.Receive(t.Context())
			require.NoError(t, err)
			require.Equal(t, []byte{0xF0, 0x7D, 0xF7}, got)
			close(e.heard)
			require.ErrorIs(t, <-done, tc.fail)
			require.NoError(t, p.Close())
			said, err := traceport.Parse(&out)
			require.NoError(t, err)
			require.Equal(t, conversation(t, tc.want), said)
		})
	}
}

// full is a disk that takes so many bytes.
type full struct {
	held bytes.Buffer
	room int
}

var errFull = errors.New("no space left")

func (f *full) Write(b []byte) (int, error) {
	if len(b) > f.room {
		n, _ := f.held.Write(b[:f.room])
		f.room = 0
		return n, errFull
	}
	f.room -= len(b)
	return f.held.Write(b)
}

func TestAFullDiskDoesNotStopTheConversation(t *testing.T) {
	disk := &full{room: 200}
	w := traceport.NewWriter(disk, time.Now(), nil)
	l := line{make(chan []byte, 1)}
	p := w.Port(l)
	for range 3 {
		pass(t, p, l, conversation(t, "> F0 7D 05 F7 | < F0 7D 7F F7"))
	}
	require.ErrorIs(t, w.Err(), errFull)
	require.ErrorContains(t, w.Err(), "writing the trace")
	_, err := traceport.Parse(&disk.held)
	var torn *traceport.TornError
	require.ErrorAs(t, err, &torn)
}

// Any conversation comes out of its trace again, byte for byte.
func FuzzAnyConversation(f *testing.F) {
	for _, seed := range []string{
		"F0 7E 7F 06 01 F7", "F0 01 02 F8 90 3C F7 40 F4 F5 01 F0", "90 3C 27 40 2B 43 25", "00", "F8 F8 F0 F8 F7 F9 FD F7 F7",
	} {
		f.Add(unhex(f, seed), []byte{3, 2, 1, 250, 4})
	}
	f.Fuzz(func(t *testing.T, stream, cuts []byte) {
		var said []port.Exchange
		for i := 0; len(stream) > 0 && i < len(cuts); i++ {
			n := min(len(stream), int(cuts[i])/2%16+1)
			said = append(said, port.Exchange{Sent: cuts[i]%2 == 0, Bytes: stream[:n]})
			stream = stream[n:]
			if cuts[i] == 0xFF {
				said = append(said, port.Exchange{})
			}
		}
		var out bytes.Buffer
		w := traceport.NewWriter(&out, time.Now(), nil)
		l := line{make(chan []byte, 1)}
		p := w.Port(l)
		pass(t, p, l, said)
		whole := out.String()
		require.NoError(t, p.Close())
		got, err := traceport.Parse(strings.NewReader(out.String()))
		require.NoError(t, err)
		require.Equal(t, merged(said), got)
		// What is there when the program is stopped is all that has passed.
		got, err = traceport.Parse(strings.NewReader(whole))
		if err != nil {
			var torn *traceport.TornError
			require.ErrorAs(t, err, &torn)
		}
		require.Equal(t, merged(said), got)
	})
}
