package transfer

import (
	"bytes"
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port"
)

const us = time.Microsecond

// A byte takes 320 µs: 10 bits at 31,250 baud (MIDI 1.0 Detailed Specification
// 4.2.1, page 1).
func TestPacing(t *testing.T) {
	for _, tc := range []struct {
		name    string
		sizes   []int // of the messages, in bytes
		gap     time.Duration
		options Options
		begin   []time.Duration // of each piece
		pieces  []int
	}{
		{"messages follow each other without a pause where none is asked for", []int{10, 10, 5}, 0, Options{},
			[]time.Duration{0, 3200 * us, 6400 * us}, []int{10, 10, 5}},
		{"a silence of 4 ms after each", []int{10, 10, 5}, 4 * ms, Options{},
			[]time.Duration{0, 7200 * us, 14400 * us}, []int{10, 10, 5}},
		{"long messages go in pieces of the device's buffer", []int{300, 3}, 4 * ms, Options{Piece: 256},
			[]time.Duration{0, 256 * 320 * us, 300*320*us + 4*ms}, []int{256, 44, 3}},
		{"pieces of 128 bytes if nothing is said", []int{300}, 0, Options{},
			[]time.Duration{0, 40960 * us, 81920 * us}, []int{128, 128, 44}},
		{"a slow receiver", []int{10, 10}, 0, Options{Rate: 1000},
			[]time.Duration{0, 10 * ms}, []int{10, 10}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				p := &stopwatch{began: time.Now(), closed: make(chan struct{})}
				l := Open(p, tc.options)
				defer l.Close()
				var steps []midi.Step
				for _, n := range tc.sizes {
					message := append(bytes.Repeat([]byte{1}, n-1), 0xF7)
					message[0] = 0xF0
					steps = append(steps, midi.Step{What: "dump", Send: message, Gap: tc.gap})
				}
				r, err := l.Run(t.Context(), steps)
				require.NoError(t, err)
				require.Equal(t, tc.begin, p.when)
				require.Equal(t, tc.pieces, p.sizes)
				require.Equal(t, len(tc.sizes), r.Messages)
			})
		})
	}
}

// The pace and the silence hold from one run to the next, and a pause is not
// saved up to send faster afterwards.
func TestPacingBetweenRuns(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := &stopwatch{began: time.Now(), closed: make(chan struct{})}
		l := Open(p, Options{})
		defer l.Close()
		one := []midi.Step{{What: "control", Send: []byte{0xB0, 7, 100}, Gap: 4 * ms}}
		for range 2 {
			_, err := l.Run(t.Context(), one)
			require.NoError(t, err)
		}
		time.Sleep(time.Second)
		for range 2 {
			_, err := l.Run(t.Context(), one)
			require.NoError(t, err)
		}
		pause := 960*us + 4*ms
		later := pause + 960*us + time.Second
		require.Equal(t, []time.Duration{0, pause, later, later + pause}, p.when)
	})
}

// stopwatch is a port that notes when it was given how much.
type stopwatch struct {
	began  time.Time
	when   []time.Duration
	sizes  []int
	closed chan struct{}
}

func (p *stopwatch) Send(_ context.Context, b []byte) error {
	p.when = append(p.when, time.Since(p.began))
	p.sizes = append(p.sizes, len(b))
	return nil
}

func (p *stopwatch) Receive(ctx context.Context) ([]byte, error) {
	select {
	case <-p.closed:
		return nil, port.ErrClosed
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

func (p *stopwatch) Close() error {
	close(p.closed)
	return nil
}

// What 64 slots of 118 bytes take beside what the wire and the device's own time
// allow: the request, the answer on its way back, and the silence.
func TestSpeedBesideTheWire(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		const slots, request, answer = 64, 4, 118
		dump := "F0 7D 12 %02X" + string(bytes.Repeat([]byte(" 00"), answer-5)) + " F7"
		onTheWire := (request + answer) * 320 * us
		l, _ := talk(t, Options{}, always(say{after: onTheWire, hex: dump}))
		var steps []midi.Step
		for range slots {
			steps = append(steps, step(0x20))
		}
		r, err := l.Run(t.Context(), steps)
		require.NoError(t, err)
		least := slots * onTheWire
		require.InDelta(t, 1, float64(r.Elapsed)/float64(least), 0.05, "%v instead of %v", r.Elapsed, least)
	})
}
