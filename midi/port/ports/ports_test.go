package ports_test

import (
	"context"
	"errors"
	"io/fs"
	"path/filepath"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
	"echowright/midi/port/ports"
)

func TestOpenByName(t *testing.T) {
	openers := ports.Builtin()
	openers["emulator"] = func(_ context.Context, rest string) (port.Port, error) {
		near, _ := port.Pipe("emulator:" + rest)
		return near, nil
	}
	p, err := openers.Open(t.Context(), "emulator:five-line")
	require.NoError(t, err)
	require.NoError(t, p.Close())

	path := filepath.Join(t.TempDir(), "a.syx")
	p, err = openers.Open(t.Context(), "file:"+path)
	require.NoError(t, err)
	require.NoError(t, p.Close())

	p, err = openers.Open(t.Context(), "file:a.mid")
	require.ErrorIs(t, err, port.ErrUnsupported)
	require.Nil(t, p, "no port beside an error")
	for _, name := range []string{"raw:/dev/snd/midiC31D7", "unix:/nowhere/at/all"} {
		p, err = openers.Open(t.Context(), name)
		require.ErrorIs(t, err, port.ErrNotThere)
		require.ErrorContains(t, err, "port "+name+": opening: ")
		require.Nil(t, p)
	}
}

func TestUnknownNames(t *testing.T) {
	for _, tc := range []struct{ name, want string }{
		{"rwa:/dev/snd/midiC1D0", `port "rwa:/dev/snd/midiC1D0": a port's name begins with one of file:, raw:, tcp:, unix:`},
		{"", `port "": a port's name begins with one of file:, raw:, tcp:, unix:`},
		{"raw:", `port "raw:": raw what? Write raw:NAME; echowright ports lists what is there`},
		{"tcp", `port "tcp": tcp what? Write tcp:NAME; echowright ports lists what is there`},
		{"/dev/snd/midiC1D0", `port "/dev/snd/midiC1D0": write raw:/dev/snd/midiC1D0 for a device`},
		{"slot.syx", `port "slot.syx": write file:slot.syx for a file`},
	} {
		t.Run(tc.name, func(t *testing.T) {
			p, err := ports.Builtin().Open(t.Context(), tc.name)
			require.EqualError(t, err, tc.want)
			require.Nil(t, p)
			var unknown *ports.UnknownError
			require.ErrorAs(t, err, &unknown)
			require.Equal(t, []string{"file", "raw", "tcp", "unix"}, unknown.Known)
		})
	}
}

func TestList(t *testing.T) {
	root := fstest.MapFS{
		"dev/snd/controlC1":       {},
		"dev/snd/midiC1D0":        {},
		"dev/snd/midiC2D3":        {},
		"dev/snd/midiC2D3.old":    {},
		"dev/snd/seq":             {},
		"proc/asound/card1/midi0": {Data: []byte("Bench Echo\n\nOutput 0\n  Tx bytes     : 0\n")},
	}
	require.Equal(t, []ports.Driver{{Name: "raw", Found: []ports.Device{
		{Port: "raw:/dev/snd/midiC1D0", Says: "Bench Echo"},
		{Port: "raw:/dev/snd/midiC2D3"},
	}}}, ports.List(root))
}

func TestListWithoutDevices(t *testing.T) {
	got := ports.List(fstest.MapFS{})
	require.Len(t, got, 1)
	require.Empty(t, got[0].Found)
	require.Contains(t, got[0].Skipped, "there is no /dev/snd")

	got = ports.List(locked{})
	require.Contains(t, got[0].Skipped, "/dev/snd cannot be read: not for you")
}

// locked is a file system that opens nothing.
type locked struct{}

func (locked) Open(string) (fs.File, error) { return nil, errors.New("not for you") }
