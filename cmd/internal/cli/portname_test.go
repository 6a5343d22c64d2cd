package cli

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestAPortLeadsToTheSamePlaceFromEveryFolder(t *testing.T) {
	here := t.TempDir()
	t.Chdir(here)
	c := &call{Env: world(t)}
	long := strings.Repeat("x", socketPath) // with any folder before it, it is too long for a socket
	for name, want := range map[string]string{
		"raw:midi1":             "raw:" + filepath.Join(here, "midi1"),
		"raw:../midi1":          "raw:" + filepath.Join(filepath.Dir(here), "midi1"),
		"raw:/dev/snd/midiC1D0": "raw:/dev/snd/midiC1D0",
		"raw:" + long:           "raw:" + filepath.Join(here, long),
		"unix:/run/box":         "unix:/run/box",
		"unix:" + long:          "unix:" + long,
		"unix:@box":             "unix:@box",
		"tcp:host:7000":         "tcp:host:7000",
		"emulator:five-line":    "emulator:five-line",
		"file:x.syx":            "file:x.syx",
	} {
		got, err := c.portName(name)
		require.NoError(t, err, name)
		require.Equal(t, want, got)
	}
	_, err := c.portName("serial:x")
	require.Equal(t, exitMisused, exitCode(err))
}
