package profiles

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

func fiveLine(t testing.TB) *Device {
	t.Helper()
	d, err := Shipped("five-line")
	require.NoError(t, err)
	return d
}

// The bytes are worked by hand from five-line.md.
func TestMessagesAsTheManualPrintsThem(t *testing.T) {
	d := fiveLine(t)
	at := func(name string) int { return d.Parameter(name) }
	for _, c := range []struct {
		name  string
		step  func() (midi.Step, error)
		bytes string
	}{
		// 1210 = 9·128 + 58 → 09 3A; 10h+09h+3Ah = 53h; 80h − 53h = 2Dh
		{"time of line a, 121.0 ms", func() (midi.Step, error) { return d.SetStep(0, at("a-time"), 1210) }, "F0 7D 05 00 10 00 00 09 3A 2D F7"},
		// line c is n = 2: address 23h; 10h+23h+3Ah = 6Dh; 80h − 6Dh = 13h
		{"feedback of line c, code 58, unit 3", func() (midi.Step, error) { return d.SetStep(3, at("c-feedback"), 58) }, "F0 7D 05 03 10 00 23 00 3A 13 F7"},
		// 16000 = 125·128 → 7D 00; 10h+40h+7Dh = CDh → 4Dh in 7 bits; 80h − 4Dh = 33h
		{"the longest time on line e", func() (midi.Step, error) { return d.SetStep(0, at("e-time"), 16000) }, "F0 7D 05 00 10 00 40 7D 00 33 F7"},
		// 11h+61h = 72h; 80h − 72h = 0Eh
		{"ask for the drive", func() (midi.Step, error) { return d.AskStep(0, at("drive")) }, "F0 7D 05 00 11 00 61 0E F7"},
		// 20h+3Fh = 5Fh; 80h − 5Fh = 21h
		{"ask for slot 63", func() (midi.Step, error) { return d.AskSlotStep(0, 63) }, "F0 7D 05 00 20 3F 21 F7"},
		// 30h+05h = 35h; 80h − 35h = 4Bh
		{"store in slot 5", func() (midi.Step, error) { return d.StoreStep(0, 5) }, "F0 7D 05 00 30 05 4B F7"},
		// 31h+05h = 36h; 80h − 36h = 4Ah
		{"load slot 5", func() (midi.Step, error) { return d.LoadStep(0, 5) }, "F0 7D 05 00 31 05 4A F7"},
		// MIDI 1.0 Detailed Specification 4.2.1, page 40
		{"identity", func() (midi.Step, error) { return d.IdentityStep(2) }, "F0 7E 02 06 01 F7"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := c.step()
			require.NoError(t, err)
			require.Equal(t, c.bytes, midi.Hex(s.Send))
			require.NoError(t, s.Check())
			require.Equal(t, 4*time.Millisecond, s.Gap)
		})
	}
}

func TestAnswersAreToldApart(t *testing.T) {
	d := fiveLine(t)
	ask, err := d.AskSlotStep(0, 5)
	require.NoError(t, err)
	memory := d.AppendSlot(nil, d.Rest())
	reply := slotReply(t, d, 5, memory)
	for _, c := range []struct {
		name    string
		message string
		means   midi.Meaning // 0: no answer to this question
		says    string
	}{
		// 7Eh + 20h + 06h = A4h → 24h; 80h − 24h = 5Ch
		{"busy", "F0 7D 05 00 7E 20 06 5C F7", midi.Busy, "busy writing its memory"},
		{"a wrong sum", "F0 7D 05 00 7E 20 01 61 F7", midi.Damaged, "checksum"},
		{"write protection", "F0 7D 05 00 7E 20 05 5D F7", midi.Refused, "the memory is write-protected"},
		{"a refusal of another command", "F0 7D 05 00 7E 22 06 5A F7", 0, ""},
		{"another unit's refusal", "F0 7D 05 01 7E 20 06 5C F7", 0, ""},
		{"an acknowledgement where a memory was asked for", "F0 7D 05 00 7F 20 61 F7", 0, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			message, err := midi.ParseHex(c.message)
			require.NoError(t, err)
			a, ok := ask.Answer(message)
			require.Equal(t, c.means != 0, ok)
			require.Equal(t, c.means, a.Means)
			require.Equal(t, c.says, a.Says)
		})
	}
	a, ok := ask.Answer(reply)
	require.True(t, ok)
	require.Equal(t, midi.Data, a.Means)
	other := slotReply(t, d, 6, memory)
	_, ok = ask.Answer(other)
	require.False(t, ok, "the memory of another slot is no answer")
}

// slotReply is what the unit sends for a slot: the message that writes it, with
// command 21h in place of 22h and so a sum that is one more.
func slotReply(t *testing.T, d *Device, slot int, memory []byte) []byte {
	t.Helper()
	s, err := d.WriteSlotStep(0, slot, memory)
	require.NoError(t, err)
	reply := append([]byte(nil), s.Send...)
	reply[4]--
	reply[len(reply)-2] = (reply[len(reply)-2] + 1) & 0x7F
	return reply
}

func TestSlotMemoryComesBackFromItsMessage(t *testing.T) {
	d := fiveLine(t)
	want := d.Rest()
	want.Codes[d.Parameter("a-time")] = 1210
	want.Codes[d.Parameter("e-source")] = 3
	want.Name = "saltmarsh 1"
	reply := slotReply(t, d, 63, d.AppendSlot(nil, want))
	require.Len(t, reply, 118) // F0 7D 05 unit cmd slot, 110 bytes, sum F7
	slot, memory, err := d.SlotMemory(reply)
	require.NoError(t, err)
	require.Equal(t, 63, slot)
	got, err := d.SlotSetting(memory)
	require.NoError(t, err)
	require.Equal(t, want, got)

	for i := 4; i < len(reply)-1; i++ { // from the command to the sum
		broken := append([]byte(nil), reply...)
		broken[i] ^= 0x01
		_, _, err := d.SlotMemory(broken)
		require.Error(t, err, "byte %d", i)
		if i > 4 {
			require.ErrorIs(t, err, ErrDamaged, "byte %d", i)
		}
	}
	for n := range reply {
		_, _, err := d.SlotMemory(reply[:n])
		require.Error(t, err, "cut to %d bytes", n)
	}
}

func TestIdentityIsChecked(t *testing.T) {
	d := fiveLine(t)
	s, err := d.IdentityStep(0)
	require.NoError(t, err)
	for _, c := range []struct{ name, reply, want string }{
		{"the five-line unit", "F0 7E 00 06 02 7D 05 00 01 00 01 02 00 00 F7", ""},
		{"another member of the family", "F0 7E 00 06 02 7D 05 00 02 00 01 02 00 00 F7", "member 2"},
		{"another maker", "F0 7E 00 06 02 00 7F 7F 05 00 01 00 01 02 00 00 F7", "00 7F 7F"},
		{"cut short", "F0 7E 00 06 02 7D 05 00 01 F7", "wanted 15 bytes"},
	} {
		t.Run(c.name, func(t *testing.T) {
			reply, err := midi.ParseHex(c.reply)
			require.NoError(t, err)
			_, fits := s.Answer(reply)
			require.True(t, fits)
			err = d.CheckIdentity(reply)
			if c.want == "" {
				require.NoError(t, err)
				return
			}
			require.ErrorContains(t, err, c.want)
		})
	}
}

func TestWhatCannotBeSaid(t *testing.T) {
	d := fiveLine(t)
	for _, c := range []struct {
		name string
		make func() (midi.Step, error)
		want string
	}{
		{"a code that the scale does not have", func() (midi.Step, error) { return d.SetStep(0, 0, 16001) }, "0 to 16000"},
		{"a unit number over 7 bits", func() (midi.Step, error) { return d.SetStep(128, 0, 0) }, "unit 128"},
		{"a slot that is not there", func() (midi.Step, error) { return d.AskSlotStep(0, 64) }, "slots 0 to 63"},
		{"a slot below 0", func() (midi.Step, error) { return d.LoadStep(0, -1) }, "slots 0 to 63"},
		{"a memory of the wrong length", func() (midi.Step, error) { return d.WriteSlotStep(0, 1, make([]byte, 95)) }, "95 bytes"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := c.make()
			require.ErrorContains(t, err, c.want)
		})
	}
	require.ErrorContains(t, d.CheckUnit(16), "0 to 15")
	require.NoError(t, d.CheckUnit(15))
	mute := &Device{Name: "mute"}
	require.ErrorIs(t, mute.CheckSlot(0), ErrCannot)
	_, err := mute.IdentityStep(0)
	require.ErrorIs(t, err, ErrCannot)
	_, err = mute.Code(nil)
	require.ErrorIs(t, err, ErrCannot)
}

func TestCodeIsReadFromTheAnswer(t *testing.T) {
	d := fiveLine(t)
	// 12h+23h+3Ah = 6Fh; 80h − 6Fh = 11h
	reply, err := midi.ParseHex("F0 7D 05 00 12 00 23 00 3A 11 F7")
	require.NoError(t, err)
	code, err := d.Code(reply)
	require.NoError(t, err)
	require.Equal(t, 58, code)
	reply[9] ^= 1
	_, err = d.Code(reply)
	require.ErrorIs(t, err, ErrDamaged)
}
