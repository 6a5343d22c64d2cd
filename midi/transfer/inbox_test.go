package transfer

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

func newTestInbox(limit int) *inbox {
	o := Options{Limit: limit}.withDefaults()
	return newInbox(o, &tracer{clock: o.Clock})
}

func TestInbox(t *testing.T) {
	in := newTestInbox(8)
	in.take(unhex("F8 01 90 3C 40 F0 7D F0 01 02 03 04 05 06 07 08 F7 F0 7D F7"))
	require.Equal(t, Heard{Bytes: 20, RealTime: 1, Messages: 2, Broken: 2, Stray: 3}, in.count(),
		"stray: 01 at the start, and 07 08, for which there is no room between F0, six bytes and F7")
	for _, want := range []string{"90 3C 40", "F0 7D F7"} {
		m, ok, err := in.next(in.last)
		require.NoError(t, err)
		require.True(t, ok)
		require.Equal(t, want, midi.Hex(m))
	}
	_, ok, err := in.next(in.last)
	require.NoError(t, err)
	require.False(t, ok)
}

// What began later than is asked for stays there; what began in time and ended
// later does not.
func TestWhatBeganInTime(t *testing.T) {
	c := newHandClock()
	o := Options{Clock: c.clock()}.withDefaults()
	in := newInbox(o, &tracer{clock: o.Clock})
	early := o.Clock.Now()
	in.take(unhex("90 3C 40 F0 7D"))
	c.move(ms)
	_, underWay := in.underWay(early)
	require.True(t, underWay)
	in.take(unhex("01 F8 F7 B0 07 64 F0 7D 02"))
	_, underWay = in.underWay(early)
	require.False(t, underWay, "this one began later")
	_, underWay = in.underWay(o.Clock.Now())
	require.True(t, underWay)
	for _, want := range []string{"90 3C 40", "F0 7D 01 F7"} {
		m, ok, _ := in.next(early)
		require.True(t, ok)
		require.Equal(t, want, midi.Hex(m))
	}
	_, ok, err := in.next(early)
	require.NoError(t, err)
	require.False(t, ok)
	m, ok, _ := in.next(o.Clock.Now())
	require.True(t, ok)
	require.Equal(t, "B0 07 64", midi.Hex(m))
}

func TestInboxStaysSmall(t *testing.T) {
	in := newTestInbox(0)
	note := []byte{0x90, 60, 100}
	for range inboxBytes { // three times what it keeps
		in.take(note)
	}
	require.LessOrEqual(t, in.size, inboxBytes)
	require.LessOrEqual(t, len(in.letters), inboxBytes/len(note))
	require.Equal(t, inboxBytes, in.count().Messages)
	in.take(unhex("B0 07 64"))
	var last []byte
	for m, ok, _ := in.next(in.last); ok; m, ok, _ = in.next(in.last) {
		last = m
	}
	require.Equal(t, "B0 07 64", midi.Hex(last), "the newest is kept")
}

func TestHeardInWords(t *testing.T) {
	for want, h := range map[string]Heard{
		"1 byte in 1 stray byte":                                                    {Bytes: 1, Stray: 1},
		"2 bytes in a message without its end":                                      {Bytes: 2},
		"9 bytes in 2 messages, 1 real-time message, 2 broken SysEx, 3 stray bytes": {Bytes: 9, Messages: 2, RealTime: 1, Broken: 2, Stray: 3},
	} {
		require.Equal(t, want, h.String())
	}
}

// A SysEx that goes on and on, byte by byte, is not waited for forever.
func TestATrickleEnds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, d := talk(t, Options{Retries: -1}, always())
		ctx, cancel := context.WithCancel(t.Context())
		var trickle = make(chan struct{})
		go func() {
			defer close(trickle)
			_ = d.Send(ctx, unhex("F0"))
			for ctx.Err() == nil {
				_ = d.Send(ctx, unhex("01"))
				time.Sleep(50 * ms)
			}
		}()
		synctest.Wait()
		_, err := l.Run(t.Context(), []midi.Step{step(0x10)})
		var silent *NoAnswerError
		require.ErrorAs(t, err, &silent)
		require.ErrorContains(t, err, "a message without its end")
		cancel()
		<-trickle
	})
}

func TestTrace(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		type line struct {
			at   time.Duration
			dir  Direction
			text string
		}
		var lines []line
		began := time.Now()
		o := Options{Trace: func(e TraceEvent) {
			text := midi.Hex(e.Bytes)
			if e.Note != "" {
				text += " (" + e.Note + ")"
			}
			lines = append(lines, line{e.At.Sub(began), e.Dir, text})
		}}
		l, _ := talk(t, o, inOrder(
			[]say{{after: 5 * ms, hex: "F8 01 90 3C 40 F0 7D B0 07 64"}},
			[]say{{after: 5 * ms, hex: damaged}}, []say{{after: 5 * ms, hex: busy}}, []say{{after: 5 * ms, hex: done}}))
		_, err := l.Run(t.Context(), []midi.Step{step(0x10)})
		require.NoError(t, err)
		second := 1280*us + 100*ms
		third := second + 5280*us // the answer is there, but the silence is not over
		require.Equal(t, []line{
			{0, Out, "F0 7D 10 F7"},
			{5 * ms, In, "F8 (real-time)"},
			{5 * ms, In, "90 3C 40"},
			{5 * ms, In, "F0 7D (cut short)"},
			{5 * ms, In, "B0 07 64"},
			{5 * ms, In, " (1 byte outside any message)"},
			{5 * ms, Remark, " (command 10: 90 3C 40: not an answer to this, put aside)"},
			{5 * ms, Remark, " (command 10: B0 07 64: not an answer to this, put aside)"},
			{second, Remark, " (command 10: no answer, sent again)"},
			{second, Out, "F0 7D 10 F7"},
			{second + 5*ms, In, "F0 7D 7E 10 01 F7"},
			{second + 5*ms, Remark, " (command 10: did not arrive whole (checksum), sent again)"},
			{third, Out, "F0 7D 10 F7"},
			{third + 5*ms, In, "F0 7D 7E 10 06 F7"},
			{third + 5*ms, Remark, " (command 10: busy, sent again in 50ms)"},
			{third + 55*ms, Out, "F0 7D 10 F7"},
			{third + 60*ms, In, "F0 7D 7F 10 F7"},
		}, lines)
	})
}

// Whoever looks on is told once a step that it is sent again, and why at first.
func TestAStepThatIsSentAgainIsTold(t *testing.T) {
	answer := func(hex string) []say { return []say{{after: 5 * ms, hex: hex}} }
	for _, tc := range []struct {
		name   string
		script func(int, byte) []say
		told   []string
	}{
		{"all is well", always(say{after: 5 * ms, hex: done}), nil},
		{"silence", inOrder(nil, answer(done), answer(done)), []string{"command 10: no answer"}},
		{"damage, then silence, then busy, on the first of two", inOrder(answer(damaged), nil, answer(busy), answer(done), answer(done)),
			[]string{"command 10: did not arrive whole (checksum)"}},
		{"busy on both", inOrder(answer(busy), answer(done), answer(busy), answer(busy), answer(done)), []string{"command 10: busy", "command 11: busy"}},
		{"never an answer", always(), []string{"command 10: no answer"}},
		{"refused, which is not sent again", always(say{after: 5 * ms, hex: routing}), nil},
	} {
		t.Run(tc.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				var told []string
				l, _ := talk(t, Options{Again: func(what, why string) { told = append(told, what+": "+why) }}, tc.script)
				_, _ = l.Run(t.Context(), []midi.Step{step(0x10), step(0x11)}) // how it ends is told elsewhere
				require.Equal(t, tc.told, told)
			})
		})
	}
}

func TestSystemClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := System()
		began := c.Now()
		require.NoError(t, c.Sleep(t.Context(), time.Hour))
		require.Equal(t, time.Hour, c.Now().Sub(began))
		require.NoError(t, c.Sleep(t.Context(), -1))
		ended, cancel := context.WithCancel(t.Context())
		cancel()
		require.ErrorIs(t, c.Sleep(ended, time.Hour), context.Canceled)
		require.ErrorIs(t, c.Sleep(ended, 0), context.Canceled)
		require.Equal(t, time.Hour, c.Now().Sub(began))
	})
}
