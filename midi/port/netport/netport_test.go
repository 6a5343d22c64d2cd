package netport_test

import (
	"context"
	"net"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
	"echowright/midi/port/netport"
	"echowright/midi/port/porttest"
)

// listening gives both ends of connections to a listener.
func listening(network, address string, dial func(context.Context, string) (port.Port, error)) func(*testing.T) (port.Port, port.Port) {
	return func(t *testing.T) (port.Port, port.Port) {
		if network == "unix" {
			address = filepath.Join(t.TempDir(), "socket")
		}
		l, err := net.Listen(network, address)
		if err != nil {
			t.Skipf("no %s sockets here: %v", network, err)
		}
		defer l.Close()
		near, err := dial(t.Context(), l.Addr().String())
		require.NoError(t, err)
		c, err := l.Accept()
		require.NoError(t, err)
		return near, netport.New("accepted", c)
	}
}

func TestUnix(t *testing.T) {
	porttest.Run(t, porttest.Kind{Open: listening("unix", "", netport.OpenUnix)})
}

func TestTCP(t *testing.T) {
	porttest.Run(t, porttest.Kind{Open: listening("tcp", "localhost:0", netport.OpenTCP)})
}

func TestNobodyListens(t *testing.T) {
	nowhere := filepath.Join(t.TempDir(), "none")
	l, err := net.Listen("tcp", "localhost:0")
	require.NoError(t, err)
	address := l.Addr().String()
	require.NoError(t, l.Close())
	for _, tc := range []struct {
		name string
		open func() (port.Port, error)
		want string
	}{
		{"no such socket", func() (port.Port, error) { return netport.OpenUnix(t.Context(), nowhere) }, "port unix:" + nowhere + ": opening: there is no such port"},
		{"no such listener", func() (port.Port, error) { return netport.OpenTCP(t.Context(), address) }, "is the other side running and listening there?"},
		{"no number", func() (port.Port, error) { return netport.OpenTCP(t.Context(), "localhost") }, "write tcp:HOST:PORT"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			p, err := tc.open()
			require.Nil(t, p)
			require.ErrorIs(t, err, port.ErrNotThere)
			require.ErrorContains(t, err, tc.want)
		})
	}
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = netport.OpenTCP(ended, address)
	require.ErrorIs(t, err, context.Canceled)
}
