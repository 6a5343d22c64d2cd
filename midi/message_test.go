package midi

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// The forms are those of the MIDI 1.0 Detailed Specification 4.2.1, tables I, II,
// V and VI; 14-bit values go low half first.
func TestMessages(t *testing.T) {
	for _, tc := range []struct {
		name string
		make func() ([]byte, error)
		want string
	}{
		{"note off, channel 1", func() ([]byte, error) { return NoteOff(1, 60, 64) }, "80 3C 40"},
		{"note on, channel 16", func() ([]byte, error) { return NoteOn(16, 127, 1) }, "9F 7F 01"},
		{"key pressure", func() ([]byte, error) { return KeyPressure(3, 0, 127) }, "A2 00 7F"},
		{"volume 100", func() ([]byte, error) { return ControlChange(1, 7, 100) }, "B0 07 64"},
		{"program change", func() ([]byte, error) { return ProgramChange(2, 46) }, "C1 2E"},
		{"channel pressure", func() ([]byte, error) { return ChannelPressure(10, 5) }, "D9 05"},
		{"pitch bend, lowest", func() ([]byte, error) { return PitchBend(1, 0) }, "E0 00 00"},
		{"pitch bend, middle (page 19: 00 40)", func() ([]byte, error) { return PitchBend(1, 8192) }, "E0 00 40"},
		{"pitch bend, highest", func() ([]byte, error) { return PitchBend(1, 16383) }, "E0 7F 7F"},
		{"quarter frame, seconds high = 3", func() ([]byte, error) { return QuarterFrame(3, 3) }, "F1 33"},
		// 128 beats of 6 clocks: the low half is 0, the high half 1.
		{"song position 128", func() ([]byte, error) { return SongPosition(128) }, "F2 00 01"},
		{"song position, last", func() ([]byte, error) { return SongPosition(16383) }, "F2 7F 7F"},
		{"song select", func() ([]byte, error) { return SongSelect(1) }, "F3 01"},
		{"SysEx", func() ([]byte, error) { return SysEx([]byte{0x7D, 0x01, 0x7F}) }, "F0 7D 01 7F F7"},
		{"identity request to all (page 40)", func() ([]byte, error) { return IdentityRequest(AllUnits) }, "F0 7E 7F 06 01 F7"},
		{"identity request to unit 5", func() ([]byte, error) { return IdentityRequest(5) }, "F0 7E 05 06 01 F7"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			got, err := tc.make()
			require.NoError(t, err)
			require.Equal(t, tc.want, Hex(got))
			var f Framer
			require.Equal(t, tc.want, told(frame(&f, got, 1)), "it must be one whole message")
		})
	}
}

func TestMessagesOutOfRange(t *testing.T) {
	for _, tc := range []struct {
		make func() ([]byte, error)
		want string
	}{
		{func() ([]byte, error) { return NoteOn(0, 60, 64) }, "note on: channel 0: it runs from 1 to 16"},
		{func() ([]byte, error) { return NoteOn(17, 60, 64) }, "note on: channel 17: it runs from 1 to 16"},
		{func() ([]byte, error) { return NoteOff(1, 128, 64) }, "note off: key 128: it runs from 0 to 127"},
		{func() ([]byte, error) { return KeyPressure(1, 1, -1) }, "key pressure: pressure -1: it runs from 0 to 127"},
		{func() ([]byte, error) { return ControlChange(1, 7, 128) }, "control change: value 128: it runs from 0 to 127"},
		{func() ([]byte, error) { return ControlChange(1, -7, 1) }, "control change: controller -7: it runs from 0 to 127"},
		{func() ([]byte, error) { return ProgramChange(1, 300) }, "program change: program 300: it runs from 0 to 127"},
		{func() ([]byte, error) { return ChannelPressure(1, 256) }, "channel pressure: pressure 256: it runs from 0 to 127"},
		{func() ([]byte, error) { return PitchBend(1, 16384) }, "pitch bend: position 16384: it runs from 0 to 16383"},
		{func() ([]byte, error) { return QuarterFrame(8, 0) }, "quarter frame: type 8: it runs from 0 to 7"},
		{func() ([]byte, error) { return QuarterFrame(0, 16) }, "quarter frame: value 16: it runs from 0 to 15"},
		{func() ([]byte, error) { return SongPosition(16384) }, "song position: beats 16384: it runs from 0 to 16383"},
		{func() ([]byte, error) { return SongSelect(128) }, "song select: song 128: it runs from 0 to 127"},
		{func() ([]byte, error) { return IdentityRequest(128) }, "identity request: unit 128: it runs from 0 to 127"},
		{func() ([]byte, error) { return SysEx([]byte{0x7D, 0x80}) }, "system exclusive: byte 1 of the body: data byte 128: it runs from 0 to 127"},
	} {
		t.Run(tc.want, func(t *testing.T) {
			got, err := tc.make()
			require.EqualError(t, err, tc.want)
			require.Empty(t, got)
			var out *RangeError
			require.ErrorAs(t, err, &out)
		})
	}
}

func TestSysExWithoutBody(t *testing.T) {
	_, err := SysEx(nil)
	require.ErrorContains(t, err, "empty body")
	dst := []byte{1, 2}
	got, err := AppendSysEx(dst, []byte{0x7D, 0xF7})
	require.Error(t, err)
	require.Equal(t, dst, got, "nothing is appended where the body is wrong")
}

func TestHex(t *testing.T) {
	for _, tc := range []struct {
		in   string
		want []byte
	}{
		{"", nil},
		{"F0 7D 05 F7", []byte{0xF0, 0x7D, 0x05, 0xF7}},
		{" f07d05\n\tF7 ", []byte{0xF0, 0x7D, 0x05, 0xF7}},
	} {
		got, err := ParseHex(tc.in)
		require.NoError(t, err)
		require.Equal(t, tc.want, got)
	}
	require.Equal(t, "00 0A FF", Hex([]byte{0, 10, 255}))
	require.Empty(t, Hex(nil))
	_, err := ParseHex("F0 7 F7")
	require.EqualError(t, err, `hex bytes: word 2, "7": write each byte as two digits 0 to F, such as F0 7D 05`)
}
