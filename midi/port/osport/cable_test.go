//go:build cgo && (osmidi || darwin || windows)

package osport_test

import (
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
	"echowright/midi/port/osport"
	"echowright/midi/port/porttest"
	"echowright/midi/port/rawport"
)

// The two ends of one cable: the name of a port of the system, and the raw device
// that its other end leads to. .ci/usb-midi has such a cable.
const (
	nearVariable = "ECHOWRIGHT_TEST_OS_PORT"
	farVariable  = "ECHOWRIGHT_TEST_FAR_DEVICE"
)

// wirePause after each piece of 125 bytes is 320 µs a byte: the wire's pace
// (MIDI 1.0, page 1), which the system's own line cannot be spared.
const wirePause = 40 * time.Millisecond

func cable(t *testing.T) (near, far string) {
	near, far = os.Getenv(nearVariable), os.Getenv(farVariable)
	if near == "" || far == "" {
		t.Skipf("SKIP: %s and %s name no cable; .ci/usb-midi runs this in a virtual machine", nearVariable, farVariable)
	}
	return near, far
}

func TestCable(t *testing.T) {
	nearName, farPath := cable(t)
	porttest.RunMessages(t, wirePause, func(t *testing.T) (port.Port, port.Port) {
		far, err := rawport.Open(t.Context(), farPath)
		require.NoError(t, err)
		near, err := osport.Open(t.Context(), nearName)
		require.NoError(t, err)
		return near, far
	})
}

func TestCableIsListed(t *testing.T) {
	name, _ := cable(t)
	all, err := osport.List()
	require.NoError(t, err)
	require.Contains(t, all, osport.Found{Name: name, In: true, Out: true})
	_, err = osport.Open(t.Context(), name+"?")
	require.ErrorIs(t, err, port.ErrNotThere)
	require.ErrorContains(t, err, name)
}

func TestCableInUseIsRefused(t *testing.T) {
	name, _ := cable(t)
	device := os.Getenv("ECHOWRIGHT_TEST_NEAR_DEVICE")
	raw, err := rawport.Open(t.Context(), device)
	require.NoError(t, err)
	defer raw.Close()
	_, err = osport.Open(t.Context(), name)
	require.ErrorContains(t, err, "the system will not connect to it; another program may have the device by itself")
}
