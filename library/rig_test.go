package library

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func number(n int) *int { return &n }

func TestRigsComeBackTheSame(t *testing.T) {
	for _, c := range []struct {
		rig  Rig
		want string
	}{
		{Rig{Name: "left", Device: "five-line", Port: "os:Left rack", Unit: number(0)},
			"format = \"echowright-rig/1\"\nname = \"left\"\ndevice = \"five-line\"\nport = \"os:Left rack\"\nunit = 0\n"},
		{Rig{Name: "right", Device: "twin", Port: "tcp:rack.local:5000", Channel: 16, Notes: "the \"loud\" one\n\tside B"},
			"format = \"echowright-rig/1\"\nname = \"right\"\ndevice = \"twin\"\nport = \"tcp:rack.local:5000\"\nchannel = 16\nnotes = \"the \\\"loud\\\" one\\n\\tside B\"\n"},
		{Rig{Name: "both", Device: "open-parameter", Port: "raw:/dev/midi", Channel: 3, Unit: number(7)},
			"format = \"echowright-rig/1\"\nname = \"both\"\ndevice = \"open-parameter\"\nport = \"raw:/dev/midi\"\nchannel = 3\nunit = 7\n"},
		{Rig{Name: "plain", Device: "twin", Port: "emulator:twin"},
			"format = \"echowright-rig/1\"\nname = \"plain\"\ndevice = \"twin\"\nport = \"emulator:twin\"\n"},
	} {
		text, err := FormatRig(c.rig)
		require.NoError(t, err)
		require.Equal(t, c.want, string(text))
		again, err := ParseRig("r.toml", text)
		require.NoError(t, err)
		require.Equal(t, c.rig, again)
	}
}

func TestBrokenRigsAreRefusedInWords(t *testing.T) {
	const good = "format = 'echowright-rig/1'\nname = 'left'\ndevice = 'twin'\nport = 'raw:/dev/midi'\n"
	_, err := ParseRig("r.toml", []byte(good))
	require.NoError(t, err)
	for _, c := range []struct{ name, text, want string }{
		{"a unit file", "format = 'echowright-unit/1'\n", `r.toml:1: format "echowright-unit/1" is that of a unit file; give a rig file here`},
		{"a newer one", "format = 'echowright-rig/2'\n", `r.toml:1: format "echowright-rig/2" was made by a newer echowright`},
		{"no port", "format = 'echowright-rig/1'\nname = 'left'\ndevice = 'twin'\n", "r.toml:1: port is missing; add it"},
		{"no device", "format = 'echowright-rig/1'\nname = 'left'\nport = 'x:y'\n", "r.toml:1: device is missing; add it"},
		{"unknown key", good + "chanel = 1\n", `r.toml:5: unknown key chanel; did you mean "channel"?`},
		{"channel 0", good + "channel = 0\n", "r.toml:5: channel 0: must lie from 1 to 16"},
		{"channel 17", good + "channel = 17\n", "r.toml:5: channel 17: must lie from 1 to 16"},
		{"unit 128", good + "\nunit = 128\n", "r.toml:6: unit 128: must lie from 0 to 127"},
		{"port without a place", "format = 'echowright-rig/1'\nname = 'left'\ndevice = 'twin'\nport = 'raw:'\n", `r.toml:4: port "raw:": write its kind and its place`},
		{"port without a kind", "format = 'echowright-rig/1'\nname = 'left'\ndevice = 'twin'\nport = '/dev/midi'\n", `r.toml:4: port "/dev/midi": write its kind`},
		{"port with an escape", "format = 'echowright-rig/1'\nname = 'left'\ndevice = 'twin'\nport = \"raw:\\u001b\"\n", `r.toml:4: port "raw:\x1b": write its kind`},
		{"notes with an escape", good + "notes = \"\\u0007\"\n", "r.toml:5: notes hold a control character: take it out"},
		{"name that is a path", "format = 'echowright-rig/1'\nname = '../left'\ndevice = 'twin'\nport = 'x:y'\n", `r.toml:2: name "../left": use lower-case letters`},
		{"device that is a path", "format = 'echowright-rig/1'\nname = 'left'\ndevice = '/twin'\nport = 'x:y'\n", `r.toml:3: device "/twin": use lower-case letters`},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := ParseRig("r.toml", []byte(c.text))
			require.ErrorContains(t, err, c.want)
			require.Equal(t, Rig{}, r)
		})
	}
	_, err = FormatRig(Rig{Name: "left", Device: "twin", Port: "x:y", Channel: 17})
	require.EqualError(t, err, `rig "left" cannot be written: channel 17: must lie from 1 to 16`)
}

func FuzzParseRig(f *testing.F) {
	f.Add([]byte("format = 'echowright-rig/1'\nname = 'left'\ndevice = 'twin'\nport = 'raw:/dev/midi'\nchannel = 3\nnotes = 'x'\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		r, err := ParseRig("r.toml", text)
		if err != nil {
			return
		}
		canonical, err := FormatRig(r)
		require.NoError(t, err)
		again, err := ParseRig("r.toml", canonical)
		require.NoError(t, err)
		require.Equal(t, r, again)
	})
}
