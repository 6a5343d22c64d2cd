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
	"echowright/midi/port/osport"
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
		{"rwa:/dev/snd/midiC1D0", `port "rwa:/dev/snd/midiC1D0": a port's name begins with one of file:, os:, raw:, tcp:, trace:, unix:`},
		{"", `port "": a port's name begins with one of file:, os:, raw:, tcp:, trace:, unix:`},
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
			require.Equal(t, []string{"file", "os", "raw", "tcp", "trace", "unix"}, unknown.Known)
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
	system := func() ([]osport.Found, error) {
		return []osport.Found{{Name: "Fen Delay", In: true, Out: true}, {Name: "Knobs", In: true}, {Name: "Reed", Out: true}}, nil
	}
	require.Equal(t, []ports.Driver{
		{Name: "raw", Found: []ports.Device{
			{Port: "raw:/dev/snd/midiC1D0", Says: "Bench Echo"},
			{Port: "raw:/dev/snd/midiC2D3"},
		}},
		{Name: "os", Found: []ports.Device{
			{Port: "os:Fen Delay", Says: "a port of the system, both ways"},
			{Port: "os:Knobs", Says: "a port of the system, only to be heard"},
			{Port: "os:Reed", Says: "a port of the system, only to be spoken to"},
		}},
	}, ports.List(root, system))
}

func TestListSaysWhyThereIsNothing(t *testing.T) {
	for _, tc := range []struct {
		name   string
		root   fs.FS
		system error
		raw    string
		os     string
	}{
		{
			name: "no hardware", root: fstest.MapFS{}, system: errors.New("not today"),
			raw: "there is no /dev/snd: no sound or MIDI hardware is plugged in, or its kernel modules are not loaded", os: "not today",
		},
		{
			name: "no permission", root: locked{}, system: &port.Error{Port: "os:", Doing: "listing", Err: port.ErrDenied},
			raw: "/dev/snd cannot be read: not for you", os: "no permission for the port",
		},
		{
			name: "another build", root: fstest.MapFS{"dev/snd/seq": {}},
			system: &port.Error{Port: "os:", Doing: "listing", Err: port.ErrUnsupported, Next: "rebuild it"}, os: "not supported; rebuild it",
		},
	} {
		t.Run(tc.name, func(t *testing.T) {
			got := ports.List(tc.root, func() ([]osport.Found, error) { return nil, tc.system })
			require.Equal(t, []ports.Driver{
				{Name: "raw", Found: []ports.Device{}, Skipped: tc.raw}, {Name: "os", Found: []ports.Device{}, Skipped: tc.os},
			}, got)
		})
	}
}

// locked is a file system that opens nothing.
type locked struct{}

func (locked) Open(string) (fs.File, error) { return nil, errors.New("not for you") }
