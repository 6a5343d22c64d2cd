package porttest

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
)

// RunSilent checks the promises that can be checked of a port whose other side
// is out of the test's reach and says nothing.
func RunSilent(t *testing.T, open func(t *testing.T) port.Port) {
	t.Run("Receive ends with its context", func(t *testing.T) {
		p := open(t)
		began := time.Now()
		_, err := p.Receive(brief(t))
		requireError(t, err, context.DeadlineExceeded)
		require.Less(t, time.Since(began), patience)
		require.NoError(t, p.Close())
	})
	t.Run("an ended context ends calls", func(t *testing.T) { endedContext(t, open(t)) })
	t.Run("Close ends a Receive", func(t *testing.T) {
		p := open(t)
		_, err := p.Receive(closeIn(t, p))
		requireError(t, err, port.ErrClosed)
	})
	t.Run("after Close", func(t *testing.T) { closed(t, open(t)) })
}
