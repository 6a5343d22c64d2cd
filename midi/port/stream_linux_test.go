package port_test

import (
	"context"
	"net"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
)

// line is a stream over a socket, and the other end of that.
func line(t *testing.T) (near port.Port, far net.Conn) {
	t.Helper()
	listener, err := net.Listen("unix", filepath.Join(t.TempDir(), "line"))
	require.NoError(t, err)
	defer listener.Close()
	dialled, err := net.Dial("unix", listener.Addr().String())
	require.NoError(t, err)
	far, err = listener.Accept()
	require.NoError(t, err)
	near = port.Stream("line", dialled, func(err error) error { return err })
	t.Cleanup(func() { near.Close(); far.Close() })
	return near, far
}

// A clock is one byte each 8 ms at 300 BPM, for hours.
func TestNothingIsAllocatedForAByte(t *testing.T) {
	near, far := line(t)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	clock, got := []byte{0xF8}, make([]byte, 1)
	require.Zero(t, testing.AllocsPerRun(1000, func() {
		if _, err := far.Write(clock); err != nil {
			t.Fatal(err)
		}
		b, err := near.Receive(ctx)
		if err != nil || len(b) != 1 || b[0] != 0xF8 {
			t.Fatal(b, err)
		}
	}), "in")
	require.Zero(t, testing.AllocsPerRun(1000, func() {
		if err := near.Send(ctx, clock); err != nil {
			t.Fatal(err)
		}
		if n, err := far.Read(got); err != nil || n != 1 {
			t.Fatal(n, err)
		}
	}), "out")
}

// One context after another, each ended before, during or after its call: none of
// them breaks the calls of the next.
func TestOneContextAfterAnother(t *testing.T) {
	near, far := line(t)
	for range 50 {
		ended, end := context.WithCancel(t.Context())
		end()
		_, err := near.Receive(ended)
		require.ErrorIs(t, err, context.Canceled, "ended before")

		short, end := context.WithTimeout(t.Context(), time.Millisecond)
		_, err = near.Receive(short)
		require.ErrorIs(t, err, context.DeadlineExceeded, "ended during")
		end()

		_, err = far.Write([]byte{1, 2})
		require.NoError(t, err)
		for range 2 { // its end comes after it
			lasting, end := context.WithCancel(t.Context())
			b, err := near.Receive(lasting)
			require.NoError(t, err)
			require.Equal(t, []byte{1, 2}, b)
			end()
			_, err = far.Write([]byte{1, 2})
			require.NoError(t, err)
		}
		b, err := near.Receive(context.Background())
		require.NoError(t, err, "a context that never ends")
		require.Equal(t, []byte{1, 2}, b)
	}
	require.NoError(t, far.Close())
	_, err := near.Receive(t.Context())
	require.ErrorIs(t, err, port.ErrGone)
	require.NoError(t, near.Close())
	_, err = near.Receive(t.Context())
	require.ErrorIs(t, err, net.ErrClosed, "as its explain leaves it")
}
