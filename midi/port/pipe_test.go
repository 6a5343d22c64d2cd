package port_test

import (
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
	"echowright/midi/port/porttest"
)

func TestPipe(t *testing.T) {
	porttest.Run(t, porttest.Kind{Open: func(*testing.T) (port.Port, port.Port) { return port.Pipe("cable") }})
}

func TestPipeInABubble(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		near, far := port.Pipe("cable")
		got := make(chan byte)
		go func() {
			b, err := far.Receive(t.Context())
			require.NoError(t, err)
			got <- b[0]
		}()
		synctest.Wait() // the receiver waits in a way that the bubble sees
		require.NoError(t, near.Send(t.Context(), []byte{0xF8}))
		require.EqualValues(t, 0xF8, <-got)
	})
}
