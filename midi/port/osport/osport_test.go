package osport_test

import (
	"context"
	"errors"
	"os"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
	"echowright/midi/port/osport"
)

func TestAnErrorSaysWhatToDo(t *testing.T) {
	_, err := osport.Open(t.Context(), "no device has this name")
	var e *port.Error
	require.ErrorAs(t, err, &e)
	require.Equal(t, "os:no device has this name", e.Port)
	require.NotEmpty(t, e.Next)
	_, listing := osport.List()
	switch {
	case errors.Is(err, port.ErrUnsupported):
		require.ErrorContains(t, err, "this build has no os: ports")
		require.ErrorContains(t, err, "rebuild with CGO_ENABLED=1")
		require.ErrorIs(t, listing, port.ErrUnsupported)
	case runtime.GOOS == "linux" && missing("/dev/snd/seq"):
		require.ErrorIs(t, err, port.ErrNotThere)
		require.ErrorContains(t, err, "there is no /dev/snd/seq: ")
		require.ErrorIs(t, listing, port.ErrNotThere)
	default:
		require.ErrorIs(t, err, port.ErrNotThere)
		require.NoError(t, listing)
	}
}

func missing(path string) bool {
	_, err := os.Stat(path)
	return errors.Is(err, os.ErrNotExist)
}

func TestAnEndedContextOpensNothing(t *testing.T) {
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := osport.Open(ended, "x")
	require.ErrorIs(t, err, context.Canceled)
}
