package library

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const cable = "raw:/dev/snd/midiC1D0"

func TestAPortIsLockedForOne(t *testing.T) {
	l := open(t)
	unlock, err := l.LockPort(cable)
	require.NoError(t, err)

	_, err = l.LockPort(cable)
	var locked *PortLockedError
	require.ErrorAs(t, err, &locked)
	require.Equal(t, cable, locked.Port)
	require.EqualError(t, err, `another echowright is using the port "raw:/dev/snd/midiC1D0": wait until it is done and try again`)
	other, err := l.LockPort("raw:/dev/snd/midiC1D1")
	require.NoError(t, err, "another port is free")
	require.NoError(t, other())

	require.NoError(t, unlock())
	require.NoError(t, unlock(), "twice does no harm")
	again, err := l.LockPort(cable)
	require.NoError(t, err)
	require.NoError(t, again())
}

func TestALinkIsThePortItPointsTo(t *testing.T) {
	l, dir := open(t), t.TempDir()
	device, link, other := filepath.Join(dir, "midi1"), filepath.Join(dir, "link"), filepath.Join(dir, "other")
	for _, path := range []string{device, other} {
		require.NoError(t, os.WriteFile(path, nil, 0o600))
	}
	require.NoError(t, os.Symlink(device, link))
	unlock, err := l.LockPort("raw:" + link)
	require.NoError(t, err)
	var locked *PortLockedError
	_, err = l.LockPort("raw:" + device)
	require.ErrorAs(t, err, &locked)
	require.Equal(t, "raw:"+device, locked.Port, "told by the name that was given")
	free, err := l.LockPort("raw:" + other)
	require.NoError(t, err)
	require.NoError(t, free())
	require.NoError(t, unlock())

	require.NoError(t, os.Remove(device))
	unlock, err = l.LockPort("raw:" + link) // to nowhere
	require.NoError(t, err)
	require.NoError(t, unlock())
}

func TestALockedPortKeepsNobodyFromTheLibrary(t *testing.T) {
	l := open(t)
	unlock, err := l.LockPort(cable)
	require.NoError(t, err)
	add(t, l, "saltmarsh")
	require.NoError(t, l.Finish(t.Context(), begin(t, l, pushing())))
	require.NoError(t, unlock())
}

func TestNoNameOfAPortLeadsElsewhere(t *testing.T) {
	l := open(t)
	for _, port := range []string{"", "../../x", "raw:/etc/passwd", "\x00\x1b[2J", strings.Repeat("x", 1<<16), "pty:\n"} {
		unlock, err := l.LockPort(port)
		require.NoError(t, err, "%q", port)
		_, err = l.LockPort(port)
		require.Error(t, err)
		require.NotContains(t, err.Error(), "\x1b")
		require.NoError(t, unlock())
	}
	for _, f := range files(t, l) {
		require.Regexp(t, `^ports/[0-9a-f]{16}\.lock$`, f)
	}
}
