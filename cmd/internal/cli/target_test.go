package cli

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/profiles"
)

func TestADeviceThatWritesSlowlyMayBeBusyForLonger(t *testing.T) {
	for flash, want := range map[time.Duration]time.Duration{
		0:                       5 * time.Second,
		20 * time.Millisecond:   5 * time.Second,
		1250 * time.Millisecond: 5 * time.Second,
		3 * time.Second:         12 * time.Second,
	} {
		d := profiles.Device{Manners: profiles.Manners{Flash: flash, Buffer: 64, Retries: 2}}
		manners := target{address: address{device: &d}, port: "raw:x"}.manners()
		require.Equal(t, want, manners.BusyTotal, "a write takes %v", flash)
		require.Equal(t, 32, manners.Piece, "half of what its input holds")
	}
}
