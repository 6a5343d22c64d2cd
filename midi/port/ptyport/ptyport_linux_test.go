package ptyport_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
	"echowright/midi/port/ptyport"
	"echowright/midi/port/rawport"
)

// That a Terminal keeps the promises of a port is tested with rawport, on its
// other side. Here: one user after the other.

func terminal(t *testing.T) *ptyport.Terminal {
	t.Helper()
	p, err := ptyport.Open()
	if err != nil {
		t.Skipf("no pseudo terminals here: %v", err)
	}
	t.Cleanup(func() { _ = p.Close() })
	return p
}

// visit opens the path, sends a byte and closes it again.
func visit(t *testing.T, far *ptyport.Terminal) {
	t.Helper()
	near, err := rawport.Open(t.Context(), far.Path())
	require.NoError(t, err)
	require.NoError(t, near.Send(t.Context(), []byte{0xFE}))
	got, err := far.Receive(t.Context())
	require.NoError(t, err)
	require.Equal(t, []byte{0xFE}, got)
	require.NoError(t, near.Close())
}

func TestUsersComeAndGo(t *testing.T) {
	far := terminal(t)
	for range 3 {
		visit(t, far)
		_, err := far.Receive(t.Context())
		require.ErrorIs(t, err, port.ErrGone)
	}
}

func TestStay(t *testing.T) {
	far := terminal(t)
	require.NoError(t, far.Stay())
	require.NoError(t, far.Stay(), "twice is no error")
	for range 3 {
		visit(t, far)
	}
	require.NoError(t, far.Close())
	_, err := rawport.Open(t.Context(), far.Path())
	require.ErrorIs(t, err, port.ErrNotThere, "the path ends with the terminal")
}

func TestNoEcho(t *testing.T) {
	far := terminal(t)
	require.NoError(t, far.Send(t.Context(), []byte("before anybody is there\r\n")))
	require.NoError(t, far.Stay())
	visit(t, far) // whose FE is the first thing that comes
}
