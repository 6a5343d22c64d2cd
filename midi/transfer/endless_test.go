package transfer

import (
	"bytes"
	"context"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port"
)

// others is what somebody else on the line sends again and again, as fast as the
// wire carries it.
var others = []struct {
	name string
	hex  string
	most time.Duration // that a try waits beyond its time-out: for the message that is under way
}{
	{"a clock", "F8", 0},
	{"notes", "90 3C 40", 960 * us},
	{"SysEx of 200 bytes, one after the other", "F0 7D 33" + string(bytes.Repeat([]byte(" 01"), 196)) + " F7", 200 * 320 * us},
	{"a SysEx that never ends", "F0 7D 33 01", longestMessage},
	{"data without a status", "01 02 03 04", 0},
}

// chatter sends them until the test is over, at most so many bytes at once.
func chatter(t *testing.T, d *device, hex string, atOnce int) {
	ctx, stop := context.WithCancel(context.Background())
	var over sync.WaitGroup
	t.Cleanup(func() {
		stop()
		over.Wait()
	})
	message := unhex(hex)
	over.Go(func() {
		for rest := message; d.Send(ctx, rest[:min(atOnce, len(rest))]) == nil; {
			n := min(atOnce, len(rest))
			time.Sleep(time.Duration(n) * 320 * us)
			if message[0] == 0xF0 && message[len(message)-1] != 0xF7 {
				message = message[1:] // no second beginning
			}
			if rest = rest[n:]; len(rest) == 0 {
				rest = message
			}
		}
	})
}

// Other people's messages without end neither keep a step from ending nor hide
// the answer to it.
func TestOthersGoOnWithoutEnd(t *testing.T) {
	for _, tc := range others {
		t.Run(tc.name+", no answer", func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				l, d := talk(t, Options{}, always())
				chatter(t, d, tc.hex, 16)
				time.Sleep(time.Second)
				began := time.Now()
				_, err := l.Run(t.Context(), []midi.Step{step(0x10)})
				var silent *NoAnswerError
				require.ErrorAs(t, err, &silent)
				require.Equal(t, 3, silent.Tries)
				bound := 3*(1280*us+100*ms+tc.most) + tc.most // the last: before it is sent
				require.LessOrEqual(t, time.Since(began), bound+lull)
				require.GreaterOrEqual(t, time.Since(began), 300*ms)
			})
		})
		t.Run(tc.name+", an answer in between", func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				l, d := talk(t, Options{Retries: -1}, always(say{after: 50 * ms, hex: done}))
				chatter(t, d, tc.hex, 200) // whole messages, as a merger lets them through
				r, err := l.Run(t.Context(), []midi.Step{step(0x10), step(0x11)})
				require.NoError(t, err)
				require.Equal(t, "F0 7D 7F 11 F7", midi.Hex(r.Replies[1].Message))
				require.LessOrEqual(t, r.Elapsed, 2*(50*ms+tc.most)+lull)
			})
		})
		t.Run(tc.name+", and Ctrl-C", func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				l, d := talk(t, Options{}, always())
				chatter(t, d, tc.hex, 16)
				ctx, cancel := context.WithTimeout(t.Context(), 50*ms)
				defer cancel()
				began := time.Now()
				_, err := l.Run(ctx, []midi.Step{step(0x10)})
				require.ErrorIs(t, err, context.DeadlineExceeded)
				require.LessOrEqual(t, time.Since(began), 51*ms)
			})
		})
	}
}

// handClock is a clock that somebody moves by hand, without a bubble.
type handClock struct {
	mu    sync.Mutex
	moved *sync.Cond
	now   time.Time
}

func newHandClock() *handClock {
	c := &handClock{now: time.Date(2026, 3, 14, 20, 15, 0, 0, time.UTC)}
	c.moved = sync.NewCond(&c.mu)
	return c
}

func (c *handClock) move(d time.Duration) {
	c.mu.Lock()
	c.now = c.now.Add(d)
	c.mu.Unlock()
	c.moved.Broadcast()
}

func (c *handClock) clock() Clock {
	now := func() time.Time {
		c.mu.Lock()
		defer c.mu.Unlock()
		return c.now
	}
	return Clock{Now: now, Sleep: c.sleep}
}

func (c *handClock) sleep(ctx context.Context, d time.Duration) error {
	stop := context.AfterFunc(ctx, func() {
		c.mu.Lock()
		defer c.mu.Unlock()
		c.moved.Broadcast()
	})
	defer stop()
	c.mu.Lock()
	defer c.mu.Unlock()
	for until := c.now.Add(d); c.now.Before(until) && ctx.Err() == nil; {
		c.moved.Wait()
	}
	return ctx.Err()
}

// flood is a port that always has something, faster than anybody reads it: a
// thousandth of a second of its clock for 4 kB.
type flood struct {
	mute
	clock *handClock
	bytes []byte
}

func (f flood) Receive(ctx context.Context) ([]byte, error) {
	f.clock.move(ms)
	return f.bytes, ctx.Err()
}

// A line that is never still for a moment, on a clock of our own: only this
// clock counts, and a run ends all the same.
func TestAFlood(t *testing.T) {
	for _, tc := range others {
		t.Run(tc.name, func(t *testing.T) {
			c := newHandClock()
			all := bytes.Repeat(unhex(tc.hex), 20)
			l := Open(flood{clock: c, bytes: all}, Options{Clock: c.clock()})
			defer l.Close()
			for range 2 {
				_, err := l.Run(t.Context(), []midi.Step{step(0x10)})
				var silent *NoAnswerError
				require.ErrorAs(t, err, &silent)
				require.Equal(t, 3, silent.Tries)
			}
		})
	}
}

// Ctrl-C counts at once, however much has come that could be looked through first.
func TestCtrlCInAFlood(t *testing.T) {
	c := newHandClock()
	ctx, cancel := context.WithCancel(t.Context())
	aside := 0
	l := Open(flood{clock: c, bytes: bytes.Repeat(unhex("90 3C 40"), 500)}, Options{Clock: c.clock(), Grace: ms, Trace: func(e TraceEvent) {
		if e.Dir == Remark {
			aside++
			cancel()
		}
	}})
	defer l.Close()
	_, err := l.Run(ctx, []midi.Step{step(0x10)})
	require.ErrorIs(t, err, context.Canceled)
	require.LessOrEqual(t, aside, 2, "that one, and that the rest was put aside")
}

// Nobody reads at the other end: the pipe takes 4096 bytes, as a kernel's buffer
// does, and then no more.
func TestAPortThatTakesNoMore(t *testing.T) {
	long := midi.Step{What: "dump", Send: append(append([]byte{0xF0}, make([]byte, 8190)...), 0xF7)}
	const piece = 128 * 320 * us
	for _, tc := range []struct {
		name   string
		cancel time.Duration
		took   time.Duration
		want   string
	}{
		{"it is given up", time.Hour, 32*piece + piece + 3*time.Second,
			`step "dump": port raw:/dev/x: sending: 0 of 128 bytes went in 3.04s, and no more do: is the cable in, and the device on? Unplug it and plug it in again`},
		{"Ctrl-C, and the time of grace", 2 * time.Second, 2500 * ms, "context canceled"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				near, far := port.Pipe("cable")
				defer far.Close()
				l := Open(near, Options{Name: "raw:/dev/x"})
				defer l.Close()
				ctx, cancel := context.WithCancel(t.Context())
				defer time.AfterFunc(tc.cancel, cancel).Stop()
				r, err := l.Run(ctx, []midi.Step{long})
				require.ErrorContains(t, err, tc.want)
				require.Equal(t, tc.took, r.Elapsed)
				require.Equal(t, 4096, r.Bytes)
				var stuck *StuckError
				if tc.cancel == time.Hour {
					require.ErrorAs(t, err, &stuck)
					require.NotErrorIs(t, err, context.Canceled, "nobody stopped it")
				}
			})
		})
	}
}
