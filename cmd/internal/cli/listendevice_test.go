package cli

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/profiles"
)

// The bytes are those of the devices' manuals: five-line.md, tap-loop.md,
// two-by-three.md, twin.md.
func TestWhatArrivesIsReadByADevice(t *testing.T) {
	for _, c := range []struct {
		device, bytes string
		want          string
	}{
		// 1210 = 9·128 + 58, in tenths of a millisecond
		{"five-line", "F0 7D 05 00 10 00 00 09 3A 2D F7", "a-time = 121 ms (code 1210)"},
		// its sum is 2D, not 2C
		{"five-line", "F0 7D 05 00 10 00 00 09 3A 2C F7", "damaged on the way: its checksum does not hold"},
		{"five-line", "F0 7D 05 00 7E 20 06 5C F7", "the device answers: busy: busy writing its memory"},
		// the byte below says nothing before its number is known; 800 steps of 0.125 ms are 6·128 + 32
		{"tap-loop", "B0 63 01 B0 62 02 B0 06 06 B0 26 20", "tap-2-time = 100 ms (code 800)"},
		{"tap-loop", "B0 77 05", "what sounds is to be kept in slot 5"},
		{"two-by-three", "F0 7D 09 03 24 20 0C 22 2A F7", "b-longest = 1234 ms (code 1234)"},
		// 0.99·(32 − 64)/63 is −5.971 dB with its sign turned
		{"two-by-three", "F0 7D 09 00 20 01 00 02 00 23 F7", "a-feedback = -5.971 dB inverted (code 32)"},
		{"twin", "B0 00 00 B0 20 01 C0 39", "slot 157 is to sound"},
		{"twin", "B0 76 7F", "what sounds is to be kept in the slot last selected"},
	} {
		message, err := midi.ParseHex(c.bytes)
		require.NoError(t, err)
		s := speaking(t, message).run(t, "listen", "--port", "far:side", "--device", c.device)
		require.Equal(t, exitDone, s.code, s.talk)
		require.Contains(t, s.out, "\n             "+c.want+"\n", c.bytes)
	}
}

func TestASlotThatArrivesIsReadByADevice(t *testing.T) {
	d, err := profiles.Shipped("two-by-three")
	require.NoError(t, err)
	setting := d.Rest()
	setting.Name = "mill"
	setting.Codes[d.Parameter("a-longest")] = 700
	step, err := d.WriteSlotStep(0, 9, d.AppendSlot(nil, setting))
	require.NoError(t, err)
	s := speaking(t, step.Send).run(t, "listen", "--port", "far:side", "--device", "two-by-three")
	require.Contains(t, s.out, "slot 9 holds mill:\n")
	require.Contains(t, s.out, "  a-longest = 700 ms (code 700)\n")

	s = speaking(t, step.Send).run(t, "listen", "--port", "far:side", "--device", "two-by-three", "--json")
	var v map[string]any
	require.NoError(t, json.Unmarshal([]byte(s.out), &v))
	means := first(t, v["means"])
	hasFields(t, means, "kind", "slot", "name", "setting")
	require.Equal(t, 9.0, means.(map[string]any)["slot"])
}

func TestOnlyOneUnitIsListenedTo(t *testing.T) {
	message, err := midi.ParseHex("F0 7D 09 03 24 20 0C 22 2A F7") // of unit 3
	require.NoError(t, err)
	for unit, heard := range map[string]bool{"3": true, "4": false} {
		s := speaking(t, message).run(t, "listen", "--port", "far:side", "--device", "two-by-three", "--unit", unit)
		require.Equal(t, exitDone, s.code, s.talk)
		require.Contains(t, s.out, "F0 7D 09 03")
		require.Equal(t, heard, len(lines(s)) == 2, s.out)
	}
}

func TestListeningByADeviceThatMakesNoSense(t *testing.T) {
	for want, args := range map[string][]string{
		"name the device with --device": {"--unit", "1"},
		"leave --device out":            {"--learn", "--device", "twin"},
		"can be set to 0 to 7":          {"--device", "two-by-three", "--unit", "8"},
	} {
		s := speaking(t).run(t, append([]string{"listen", "--port", "far:side"}, args...)...)
		require.Equal(t, exitMisused, s.code, s.talk)
		require.Contains(t, s.talk, want)
		require.Empty(t, s.out)
	}
}
