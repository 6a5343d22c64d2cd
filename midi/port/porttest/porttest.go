// Package porttest turns the promises of [port.Port] into tests that every kind
// of port passes.
package porttest

import (
	"bytes"
	"context"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
)

// patience and moment are the suite's only times.
const (
	// patience is how long a call may take that should return at once. It is far
	// above what a loaded machine needs, and only a failing test waits for it.
	patience = 10 * time.Second
	// moment is how long the tests wait before they break off a call that has
	// nothing to do; a call that has not begun by then is broken off all the same.
	moment = 10 * time.Millisecond
)

// A Kind is one kind of port and what its system does not give.
type Kind struct {
	// Open gives the two ends of a new line.
	Open func(t *testing.T) (near, far port.Port)
	// HangUpDrops: what near has not received when far closes is lost.
	HangUpDrops bool
	// SendIsDeaf: Send does not notice that the far end was closed.
	SendIsDeaf bool
}

// Run checks both ends of the kind of port.
func Run(t *testing.T, k Kind) {
	for _, c := range []struct {
		name string
		test func(*testing.T, Kind)
	}{
		{"every byte value, both ways", everyByte},
		{"64 kB both ways at once", burst},
		{"a byte at a time", single},
		{"Receive ends with its context, and works again", receiveCancelled},
		{"Send ends with its context and says how much went", sendCancelled},
		{"Close ends a Receive", closeEndsReceive},
		{"Close ends a Send", closeEndsSend},
		{"the other side goes away", gone},
		{"after Close", afterClose},
	} {
		t.Run(c.name, func(t *testing.T) { c.test(t, k) })
	}
}

func open(t *testing.T, k Kind) (near, far port.Port) {
	t.Helper()
	near, far = k.Open(t)
	t.Cleanup(func() { require.NoError(t, errors.Join(near.Close(), far.Close())) })
	return near, far
}

func soon(t *testing.T) context.Context {
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	t.Cleanup(cancel)
	return ctx
}

func brief(t *testing.T) context.Context {
	ctx, cancel := context.WithTimeout(t.Context(), moment)
	t.Cleanup(cancel)
	return ctx
}

// receive gives the next n bytes.
func receive(ctx context.Context, p port.Port, n int) ([]byte, error) {
	var got []byte
	for len(got) < n {
		b, err := p.Receive(ctx)
		if err != nil {
			return got, err
		}
		if len(b) == 0 {
			return got, errors.New("a call of Receive gave neither bytes nor an error")
		}
		got = append(got, b...)
	}
	return got, nil
}

// pattern is n bytes that repeat only after 251, a prime, so that a piece lost,
// doubled or exchanged shows.
func pattern(n int) []byte {
	b := make([]byte, n)
	for i := range b {
		b[i] = byte(i % 251)
	}
	return b
}

func everyByte(t *testing.T, k Kind) {
	near, far := open(t, k)
	all := make([]byte, 256)
	for i := range all {
		all[i] = byte(i)
	}
	for _, way := range [][2]port.Port{{near, far}, {far, near}} {
		require.NoError(t, way[0].Send(soon(t), all))
		got, err := receive(soon(t), way[1], len(all))
		require.NoError(t, err)
		require.Equal(t, all, got)
	}
}

func burst(t *testing.T, k Kind) {
	near, far := open(t, k)
	big := pattern(64 << 10)
	errs := make(chan error, 4)
	for _, way := range [][2]port.Port{{near, far}, {far, near}} {
		go func() { errs <- way[0].Send(soon(t), big) }()
		go func() {
			got, err := receive(soon(t), way[1], len(big))
			if err == nil && !bytes.Equal(got, big) {
				err = errors.New("the bytes did not arrive as they were sent")
			}
			errs <- err
		}()
	}
	for range cap(errs) {
		require.NoError(t, <-errs)
	}
}

func single(t *testing.T, k Kind) {
	near, far := open(t, k)
	want := pattern(300)
	for _, c := range want {
		require.NoError(t, near.Send(soon(t), []byte{c}))
		got, err := far.Receive(soon(t))
		require.NoError(t, err)
		require.Equal(t, []byte{c}, got)
	}
	require.NoError(t, near.Send(soon(t), nil), "nothing is sent easily")
}

func receiveCancelled(t *testing.T, k Kind) {
	near, far := open(t, k)
	for _, p := range []port.Port{near, far} {
		began := time.Now()
		_, err := p.Receive(brief(t))
		requireError(t, err, context.DeadlineExceeded)
		require.Less(t, time.Since(began), patience)

		ended, cancel := context.WithCancel(t.Context())
		cancel()
		_, err = p.Receive(ended)
		requireError(t, err, context.Canceled)
		requireError(t, p.Send(ended, []byte{1}), context.Canceled)
	}
	require.NoError(t, far.Send(soon(t), []byte("still here")))
	got, err := receive(soon(t), near, 10)
	require.NoError(t, err)
	require.Equal(t, "still here", string(got))
}

func sendCancelled(t *testing.T, k Kind) {
	near, far := open(t, k)
	sent, err := fill(brief(t), near)
	requireError(t, err, context.DeadlineExceeded)
	got, err := receive(soon(t), far, sent)
	require.NoError(t, err)
	require.True(t, bytes.Equal(pattern(sent), got), "what is said to have gone has gone: %d bytes", sent)
	require.NoError(t, near.Send(soon(t), []byte("and on")))
	got, err = receive(soon(t), far, 6)
	require.NoError(t, err)
	require.Equal(t, "and on", string(got), "and nothing that was not said to have gone")
}

// fill sends the pattern until nothing more goes in, and says how much went. The
// pieces are long multiples of the pattern's period.
func fill(ctx context.Context, p port.Port) (sent int, err error) {
	piece := pattern(251 * 1000)
	for err == nil {
		if err = p.Send(ctx, piece); err == nil {
			sent += len(piece)
		}
	}
	return sent + port.Sent(err), err
}

func closeEndsReceive(t *testing.T, k Kind) {
	near, _ := open(t, k)
	_, err := near.Receive(closeIn(t, near))
	requireError(t, err, port.ErrClosed)
	_, far := open(t, k)
	_, err = far.Receive(closeIn(t, far))
	requireError(t, err, port.ErrClosed)
}

func closeEndsSend(t *testing.T, k Kind) {
	near, _ := open(t, k)
	_, err := fill(closeIn(t, near), near)
	requireError(t, err, port.ErrClosed)
}

// closeIn closes the port a moment later.
func closeIn(t *testing.T, p port.Port) context.Context {
	timer := time.AfterFunc(moment, func() { _ = p.Close() })
	t.Cleanup(func() { timer.Stop() })
	return soon(t)
}

func gone(t *testing.T, k Kind) {
	near, far := open(t, k)
	last := []byte("the last words")
	require.NoError(t, near.Send(soon(t), []byte("hello")))
	_, err := receive(soon(t), far, 5)
	require.NoError(t, err)
	require.NoError(t, far.Send(soon(t), last))
	if k.HangUpDrops {
		got, err := receive(soon(t), near, len(last))
		require.NoError(t, err)
		require.Equal(t, last, got)
		last = nil
	}
	require.NoError(t, far.Close())
	got, err := receive(soon(t), near, len(last))
	require.NoError(t, err)
	require.Equal(t, string(last), string(got))
	_, err = near.Receive(soon(t))
	requireError(t, err, port.ErrGone)
	if k.SendIsDeaf {
		return
	}
	_, err = fill(soon(t), near) // a socket notices only after a while
	requireError(t, err, port.ErrGone)
}

func afterClose(t *testing.T, k Kind) {
	near, far := open(t, k)
	closed(t, near)
	closed(t, far)
}

// closed closes a port, which then does nothing more.
func closed(t *testing.T, p port.Port) {
	require.NoError(t, p.Close())
	require.NoError(t, p.Close(), "closing twice is no error")
	requireError(t, p.Send(soon(t), []byte{0xF8}), port.ErrClosed)
	_, err := p.Receive(soon(t))
	requireError(t, err, port.ErrClosed)
}

// requireError checks that the error says what it must, and which port it is of.
func requireError(t *testing.T, err, kind error) {
	t.Helper()
	require.ErrorIs(t, err, kind)
	var e *port.Error
	require.ErrorAs(t, err, &e)
	require.NotEmpty(t, e.Port, "an error names the port")
	require.NotEmpty(t, e.Doing, "an error says what was being done")
}
