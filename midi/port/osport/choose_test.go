package osport

import (
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
)

// The names are in the forms that the systems give, read from the library's source:
// ALSA "client:port C:P", CoreMIDI the bare name, Windows "name N".
func TestChoose(t *testing.T) {
	alsa := []string{"Midi Through:Midi Through Port-0 14:0", "Fen Delay:Fen Delay MIDI 1 20:0", "Two Way:Two Way MIDI 1 24:0", "Two Way:Two Way MIDI 10 24:1"}
	knobs := append([]string{"Knobs:Knobs MIDI 1 28:0"}, alsa...)
	windowsIn, windowsOut := []string{"Fen Delay 0", "Twin 1", "Twin 2"}, []string{"Synth 0", "Fen Delay 1", "Twin 2", "Twin 3"}
	for _, tc := range []struct {
		name, wanted string
		ins, outs    []string
		in, out      string
		err          string
	}{
		{name: "the whole name", wanted: alsa[1], ins: alsa, outs: alsa, in: alsa[1], out: alsa[1]},
		{name: "without numbers", wanted: "Two Way:Two Way MIDI 1", ins: alsa, outs: alsa, in: alsa[2], out: alsa[2]},
		{name: "a part in small letters", wanted: "fen del", ins: alsa, outs: alsa, in: alsa[1], out: alsa[1]},
		{name: "by its number", wanted: "20:0", ins: alsa, outs: alsa, in: alsa[1], out: alsa[1]},
		{name: "only to be heard", wanted: "knobs", ins: knobs, outs: alsa, in: knobs[0]},
		{name: "only to be spoken to", wanted: "Synth", ins: windowsIn, outs: windowsOut, out: "Synth 0"},
		{name: "two numbers for one port", wanted: "Fen Delay", ins: windowsIn, outs: windowsOut, in: "Fen Delay 0", out: "Fen Delay 1"},
		{name: "several by a part", wanted: "two way", ins: alsa, outs: alsa,
			err: `"two way" fits several ports: "Two Way:Two Way MIDI 1", "Two Way:Two Way MIDI 10"`},
		{name: "one heard and another one spoken to", wanted: "ob", ins: []string{"Knobs"}, outs: []string{"Oboe"},
			err: `"ob" fits several ports: "Knobs", "Oboe"`},
		{name: "two of the same name", wanted: "Fen Delay", ins: []string{"Fen Delay", "Fen Delay"}, outs: []string{"Fen Delay", "Fen Delay"},
			err: `"Fen Delay" fits several ports: "Fen Delay"`},
		{name: "two of the same kind", wanted: "Twin", ins: windowsIn, outs: windowsOut,
			err: `"Twin" fits several ports: "Twin 1", "Twin 2", "Twin 3"`},
		{name: "no such port", wanted: "marsh", ins: alsa[:2], outs: alsa[:2],
			err: "there is no such port"},
		{name: "no ports", wanted: "marsh", err: "there is no such port"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			in, out, err := choose(tc.wanted, tc.ins, tc.outs)
			if tc.err != "" {
				require.EqualError(t, err, tc.err)
			} else {
				require.NoError(t, err)
			}
			require.Equal(t, []string{tc.in, tc.out}, []string{in, out})
		})
	}
}

func TestWhatIsThereInstead(t *testing.T) {
	_, _, err := choose("marsh", []string{"Knobs 0"}, []string{"Fen Delay 1"})
	require.EqualError(t, named("marsh", "opening", err),
		`port os:marsh: opening: there is no such port; the system has "Fen Delay", "Knobs"`)
	_, _, err = choose("marsh", nil, nil)
	require.EqualError(t, named("marsh", "opening", err),
		"port os:marsh: opening: there is no such port; the system has no MIDI ports: is the device plugged in and switched on?")
	require.ErrorIs(t, err, port.ErrNotThere)
}

// Each name that is listed must open the port that it is listed for.
func TestNamesListedOpenWhatTheyName(t *testing.T) {
	ins := []string{"Fen Delay 0", "Twin 1", "Twin 2", "Box:A 20:0", "Box:A 24:0", "Box:B 24:1", "7", "3 4"}
	outs := []string{"Twin 2", "Fen Delay 3", "Box:A 20:0", "Box:A 24:0", "Box:B 24:1", "Reed"}
	all := found(ins, outs)
	require.Equal(t, []Found{
		{"3", true, false}, {"7", true, false}, {"Box:A 20:0", true, true}, {"Box:A 24:0", true, true}, {"Box:B", true, true},
		{"Fen Delay", true, true}, {"Reed", false, true}, {"Twin 1", true, false}, {"Twin 2", true, true},
	}, all)
	for _, f := range all {
		in, out, err := choose(f.Name, ins, outs)
		require.NoError(t, err)
		require.Equal(t, f.In, in != "", f.Name)
		require.Equal(t, f.Out, out != "", f.Name)
	}
}
