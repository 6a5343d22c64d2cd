package porttest

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
)

// RunMessages checks the promises that a port keeps which carries whole messages
// only, and drops what comes too fast. What is promised of single bytes and of a
// full line cannot be had of it. A long SysEx goes in pieces of 125 bytes with a
// pause after each: 40 ms make the pace of a MIDI wire.
func RunMessages(t *testing.T, pause time.Duration, open func(t *testing.T) (near, far port.Port)) {
	k := Kind{Open: open}
	for _, c := range []struct {
		name string
		test func(*testing.T, Kind)
	}{
		{"messages of each kind, both ways", everyMessage},
		{"a long SysEx in pieces, both ways", func(t *testing.T, k Kind) { longSysEx(t, k, pause) }},
		{"Receive ends with its context, and works again", messagesCancelled},
		{"Close ends a Receive", eachCloseEndsReceive},
		{"after Close", afterClose},
	} {
		t.Run(c.name, func(t *testing.T) { c.test(t, k) })
	}
}

// someMessages are channel messages of three bytes and of two, system common and
// real-time ones, and a SysEx with every data byte. None leans on running status,
// which systems write out.
func someMessages() [][]byte {
	all := [][]byte{
		{0x90, 0x3C, 0x40}, {0x80, 0x3C, 0x00}, {0xBF, 0x07, 0x7F}, {0xE0, 0x00, 0x40}, {0xC5, 0x11}, {0xD0, 0x01},
		{0xF2, 0x01, 0x02}, {0xF3, 0x04}, {0xF6}, {0xF8}, {0xFA}, {0xFE},
	}
	return append(all, sysEx(128))
}

// sysEx has n data bytes that count from 0 to 127 again and again.
func sysEx(n int) []byte {
	b := make([]byte, 0, n+2)
	b = append(b, 0xF0)
	for i := range n {
		b = append(b, byte(i&0x7F))
	}
	return append(b, 0xF7)
}

func everyMessage(t *testing.T, k Kind) {
	near, far := open(t, k)
	for _, way := range [][2]port.Port{{near, far}, {far, near}} {
		for _, want := range someMessages() {
			require.NoError(t, way[0].Send(soon(t), want))
			got, err := receive(soon(t), way[1], len(want))
			require.NoError(t, err)
			require.Equal(t, want, got)
		}
	}
}

const (
	// longMessage is longer than what kernels keep for a port (4096 bytes), so
	// that a port shows which collects it and then gives it all at once.
	longMessage = 8000
	wirePiece   = 125
)

func longSysEx(t *testing.T, k Kind, pause time.Duration) {
	near, far := open(t, k)
	want := sysEx(longMessage)
	for _, way := range [][2]port.Port{{near, far}, {far, near}} {
		ctx := soon(t)
		failed := make(chan error, 1)
		go func() { failed <- sendPieces(ctx, way[0], want, pause) }()
		got, err := receive(ctx, way[1], len(want))
		require.NoError(t, err, "%d of %d bytes came", len(got), len(want))
		require.NoError(t, <-failed)
		require.Equal(t, want, got)
	}
}

func sendPieces(ctx context.Context, p port.Port, b []byte, pause time.Duration) error {
	for piece := range slices.Chunk(b, wirePiece) {
		if err := p.Send(ctx, piece); err != nil {
			return err
		}
		select {
		case <-time.After(pause):
		case <-ctx.Done():
		}
	}
	return nil
}

func messagesCancelled(t *testing.T, k Kind) {
	near, far := open(t, k)
	for _, p := range []port.Port{near, far} {
		_, err := p.Receive(brief(t))
		requireError(t, err, context.DeadlineExceeded)
		ended, cancel := context.WithCancel(t.Context())
		cancel()
		_, err = p.Receive(ended)
		requireError(t, err, context.Canceled)
		requireError(t, p.Send(ended, []byte{0xF8}), context.Canceled)
	}
	want := sysEx(10)
	require.NoError(t, far.Send(soon(t), want))
	got, err := receive(soon(t), near, len(want))
	require.NoError(t, err)
	require.Equal(t, want, got)
}

// eachCloseEndsReceive makes do with one line: there may be no second.
func eachCloseEndsReceive(t *testing.T, k Kind) {
	near, far := open(t, k)
	_, err := near.Receive(closeIn(t, near))
	requireError(t, err, port.ErrClosed)
	_, err = far.Receive(closeIn(t, far))
	requireError(t, err, port.ErrClosed)
}
