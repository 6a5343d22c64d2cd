package porttest

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
)

// RunWriteOnly checks the promises that a port keeps which only takes. Written
// gives what arrived, once the port is closed.
func RunWriteOnly(t *testing.T, open func(t *testing.T) (p port.Port, written func() ([]byte, error))) {
	t.Run("64 kB in pieces arrive whole and in order", func(t *testing.T) {
		p, written := open(t)
		want := pattern(64 << 10)
		for at := 0; at < len(want); at += 1000 {
			require.NoError(t, p.Send(soon(t), want[at:min(at+1000, len(want))]))
		}
		require.NoError(t, p.Close())
		got, err := written()
		require.NoError(t, err)
		require.Equal(t, want, got)
	})
	t.Run("Receive says at once that nothing is to be heard", func(t *testing.T) {
		p, _ := open(t)
		_, err := p.Receive(soon(t))
		requireError(t, err, port.ErrUnsupported)
		require.NoError(t, p.Close())
	})
	t.Run("an ended context ends calls", func(t *testing.T) {
		p, _ := open(t)
		endedContext(t, p)
	})
	t.Run("after Close", func(t *testing.T) {
		p, _ := open(t)
		closed(t, p)
	})
}

func endedContext(t *testing.T, p port.Port) {
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	requireError(t, p.Send(ended, []byte{1}), context.Canceled)
	_, err := p.Receive(ended)
	requireError(t, err, context.Canceled)
	require.NoError(t, p.Close())
}
