package rawport_test

import (
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
	"echowright/midi/port/porttest"
	"echowright/midi/port/rawport"
)

// The raw MIDI devices at the two ends of one cable. .ci/usb-midi has such a cable.
const (
	nearVariable = "ECHOWRIGHT_TEST_NEAR_DEVICE"
	farVariable  = "ECHOWRIGHT_TEST_FAR_DEVICE"
)

// wirePause after each piece of 125 bytes is 320 µs a byte: the wire's pace
// (MIDI 1.0, page 1). Faster than that the kernel drops what it has taken.
const wirePause = 40 * time.Millisecond

// A pseudo terminal carries bytes; USB-MIDI carries messages, cut into packets of
// up to three bytes each.
func TestCable(t *testing.T) {
	near, far := os.Getenv(nearVariable), os.Getenv(farVariable)
	if near == "" || far == "" {
		t.Skipf("SKIP: %s and %s name no cable; .ci/usb-midi runs this in a virtual machine", nearVariable, farVariable)
	}
	porttest.RunMessages(t, wirePause, func(t *testing.T) (port.Port, port.Port) {
		one, err := rawport.Open(t.Context(), near)
		require.NoError(t, err)
		other, err := rawport.Open(t.Context(), far)
		require.NoError(t, err)
		_, err = rawport.Open(t.Context(), near)
		require.ErrorIs(t, err, port.ErrBusy)
		return one, other
	})
}
