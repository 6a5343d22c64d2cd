package profiles

import (
	"bytes"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

func openParameter(t testing.TB) *Device {
	t.Helper()
	d, err := Shipped("open-parameter")
	require.NoError(t, err)
	return d
}

// Worked from M1 pages 41 to 46 and open-parameter.md. Tap 1: 2500 = 09C4h, 823 =
// 0337h, inverted; the rest of the taps 0; feedback 600 = 0258h, dry 1023 = 03FFh.
// Of the first seven bytes 09 C4 03 37 01 00 00 the second alone has its top bit:
// head 20h. The fourth group is bytes 21 to 27: 00 00 00 02 58 03 FF, the last has
// it: head 01h, FF becomes 7F. The fifth group is the four zeros.
func TestASlotAsAFileDump(t *testing.T) {
	d := openParameter(t)
	s := setting(t, d, map[string]int{"tap-1-time": 2500, "tap-1-level": 823, "tap-1-polarity": 1, "feedback": 600, "dry-level": 1023})
	memory := d.AppendSlot(nil, s)
	require.Equal(t, "09 C4 03 37 01 00 00", midi.Hex(memory[:7]))
	require.Equal(t, "02 58 03 FF 00 00 00 00", midi.Hex(memory[24:]))

	steps, err := d.PushSteps(5, 7, s)
	require.NoError(t, err)
	require.Len(t, steps, 3)
	// length 32 = 20 00 00 00; MEM07 = 4D 45 4D 30 37; from us, 7Eh
	require.Equal(t, "F0 7E 05 07 01 7E 42 49 4E 20 20 00 00 00 4D 45 4D 30 37 F7", midi.Hex(steps[0].Send))
	packet := steps[1].Send
	// 32 bytes are four groups of 8 and one of 5, 37 packed: count 24h
	require.Len(t, packet, 7+37+2)
	require.Equal(t, "F0 7E 05 07 02 00 24 20 09 44 03 37 01 00 00", midi.Hex(packet[:15]))
	require.Equal(t, "01 00 00 00 02 58 03 7F 00 00 00 00 00", midi.Hex(packet[7+24:7+37]))
	require.Zero(t, midi.XOR(packet[1:len(packet)-1]), "the checksum makes the XOR of all behind F0 nothing")
	require.Equal(t, "F0 7E 05 7B 00 F7", midi.Hex(steps[2].Send))
	require.Equal(t, midi.Done, steps[1].Silence, "no answer to a packet counts as ACK")
	require.Zero(t, steps[0].Silence, "a header may be sent again")
	for _, s := range steps {
		require.NoError(t, s.Check())
	}

	slot, back, err := d.SlotMemory(append(bytes.Clone(steps[0].Send), packet...))
	require.NoError(t, err)
	require.Equal(t, 7, slot)
	require.Equal(t, memory, back)
}

// 300 bytes are 112, 112 and 76.
func TestALongMemoryTakesSeveralPackets(t *testing.T) {
	d := parsed(t, longMemory)
	memory := make([]byte, 300)
	for i := range memory {
		memory[i] = byte(7*i + 3)
	}
	steps, err := d.WriteSlotSteps(1, 12, memory)
	require.NoError(t, err)
	require.Len(t, steps, 5)
	var all []byte
	for _, s := range steps[:4] {
		all = append(all, s.Send...)
	}
	require.EqualValues(t, 2, steps[3].Send[5], "the third packet is number 2")
	require.Equal(t, "F0 7E 01 7B 02 F7", midi.Hex(steps[4].Send))
	slot, back, err := d.SlotMemory(all)
	require.NoError(t, err)
	require.Equal(t, 12, slot)
	require.Equal(t, memory, back)

	require.Nil(t, steps[0].Answers)
	require.Equal(t, 200*time.Millisecond, steps[0].Gap, "an open loop: M1 page 45")
	require.Equal(t, 50*time.Millisecond, steps[1].Gap)
	require.Equal(t, 300*time.Millisecond, steps[4].Gap, "then it writes")

	for _, c := range []struct {
		name     string
		messages []byte
		want     string
		damaged  bool
	}{
		{"a packet is missing", append(bytes.Clone(steps[0].Send), steps[2].Send...), "packet 1 came where 0 was due", true},
		{"the end is missing", all[:len(all)-len(steps[3].Send)], "224 bytes, 300 wanted", true},
		{"a byte went wrong", append(bytes.Clone(all[:40]), append([]byte{all[40] ^ 1}, all[41:]...)...), "checksum", true},
		{"no header", steps[1].Send, "wanted a header", false},
		{"nothing", nil, "0 bytes", true},
		{"another message", append(bytes.Clone(steps[0].Send), 0xF0, 0x7D, 0xF7), "wanted a packet", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, _, err := d.SlotMemory(c.messages)
			require.ErrorContains(t, err, c.want)
			require.Equal(t, c.damaged, isDamaged(err))
		})
	}
}

const longMemory = `format = "echowright-device/1"
name = "long"
[manners]
units = [0, 15]
flash_ms = 300
[memory]
slots = [0, 99]
bytes = 300
[memory.file_dump]
type = "BIN "
name = "P{slot:dec2}"
open_loop = true
[scale.time]
unit = "ms"
codes = [0, 127]
linear = { code = 0, is = 0.0, step = 1.0 }
[line]
names = ["a"]
[[line.parameter]]
role = "time"
scale = "time"
memory = { at = 0 }
`

// What goes to another number than ours is another conversation on the same line;
// beside ours, 7E, the unit's own and 7F, the number for all, are let pass.
func TestDumpsForSomebodyElse(t *testing.T) {
	d := openParameter(t)
	reading, err := d.ReadSlot(5, 3)
	require.NoError(t, err)
	asking, _ := reading.Next()
	steps, err := d.WriteSlotSteps(5, 3, d.AppendSlot(nil, d.Rest()))
	require.NoError(t, err)
	header := []byte("\xF0\x7E\x7E\x07\x01\x05BIN \x20\x00\x00\x00MEM03\xF7")
	ack := []byte("\xF0\x7E\x7E\x7F\x00\xF7")
	for number, ours := range map[byte]bool{0x7E: true, 5: true, 0x7F: true, 0x0F: false, 0: false, 6: false} {
		header[2], ack[2] = number, number
		_, fits := asking.Answer(header)
		require.Equal(t, ours, fits, "header for %02X", number)
		_, fits = steps[0].Answer(ack)
		require.Equal(t, ours, fits, "acknowledge for %02X", number)
	}
	require.NoError(t, reading.Take(header))
	acking, _ := reading.Next()
	for _, to := range []string{"\x7E", "\x0F"} {
		for _, m := range []string{"\x07\x02\x00\x00\x00\x00\xF7", "\x7B\x00\xF7"} { // a packet, the end
			_, fits := acking.Answer([]byte("\xF0\x7E" + to + m))
			require.Equal(t, to == "\x7E", fits, "%X to %X", m, to)
		}
	}
}

// The conversation, word for word: what we say in answer to what comes (M1 pages
// 44 to 46).
func TestAReadingWordForWord(t *testing.T) {
	d := openParameter(t)
	memory := d.AppendSlot(nil, setting(t, d, map[string]int{"feedback": 600}))
	header := func(name string, length int) []byte {
		m, err := midi.FileDump{Device: 0x7E, Source: 5, Type: "BIN ", Name: name, Length: length}.Header()
		require.NoError(t, err)
		return m
	}
	packet := func(number int, data []byte) []byte {
		m, err := midi.AppendFilePacket(nil, 0x7E, number, data)
		require.NoError(t, err)
		return m
	}
	hurt := packet(0, memory)
	hurt[9] ^= 1
	const cancel = "F0 7E 05 7D 00 F7"
	for _, c := range []struct {
		name    string
		answers [][]byte
		said    []string // after the request
		fails   string
		damaged bool
	}{
		{"one packet", [][]byte{header("MEM03", 32), packet(0, memory), shake(t, midi.EOF, 0)},
			[]string{"F0 7E 05 7F 00 F7", "F0 7E 05 7F 00 F7"}, "", false},
		{"two packets", [][]byte{header("MEM03", 0), packet(0, memory[:20]), packet(1, memory[20:]), shake(t, midi.EOF, 1)},
			[]string{"F0 7E 05 7F 00 F7", "F0 7E 05 7F 00 F7", "F0 7E 05 7F 01 F7"}, "", false},
		{"a packet that did not arrive whole", [][]byte{header("MEM03", 32), hurt, packet(0, memory), shake(t, midi.EOF, 0)},
			[]string{"F0 7E 05 7F 00 F7", "F0 7E 05 7E 00 F7", "F0 7E 05 7F 00 F7"}, "", false},
		{"its end gets lost", [][]byte{header("MEM03", 32), packet(0, memory), nil},
			[]string{"F0 7E 05 7F 00 F7", "F0 7E 05 7F 00 F7"}, "", false},
		{"three times", [][]byte{header("MEM03", 32), hurt, hurt, hurt},
			[]string{"F0 7E 05 7F 00 F7", "F0 7E 05 7E 00 F7", "F0 7E 05 7E 00 F7", cancel}, "3 times", true},
		{"a packet is missing", [][]byte{header("MEM03", 32), packet(1, memory)},
			[]string{"F0 7E 05 7F 00 F7", cancel}, "packet 1 came where 0 was due", true},
		{"it ends too early", [][]byte{header("MEM03", 32), packet(0, memory[:20]), shake(t, midi.EOF, 0)},
			[]string{"F0 7E 05 7F 00 F7", "F0 7E 05 7F 00 F7", cancel}, "after 20 bytes of 32", true},
		{"it does not end", [][]byte{header("MEM03", 32), packet(0, memory), packet(1, memory)},
			[]string{"F0 7E 05 7F 00 F7", "F0 7E 05 7F 00 F7", cancel}, "goes on after its 32 bytes", false},
		{"another slot", [][]byte{header("MEM04", 32)}, []string{cancel}, "slot 3 was asked for, slot 4 came", true},
		{"another file", [][]byte{header("SONG1", 32)}, []string{cancel}, "SONG1", true},
		{"another length", [][]byte{header("MEM03", 64)}, []string{cancel}, "has 64 bytes: 32 wanted", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := d.ReadSlot(5, 3)
			require.NoError(t, err)
			step, more := r.Next()
			require.True(t, more)
			require.Equal(t, "F0 7E 05 07 03 7E 42 49 4E 20 4D 45 4D 30 33 F7", midi.Hex(step.Send))
			var said []string
			for _, answer := range c.answers {
				a, fits := step.Answer(answer)
				if answer == nil {
					require.Equal(t, midi.Done, step.Silence, "silence is an answer")
				} else {
					require.True(t, fits, "%s is waited for", midi.Hex(answer[:min(6, len(answer))]))
					require.Equal(t, midi.Data, a.Means)
				}
				require.NoError(t, r.Take(answer))
				if step, more = r.Next(); more {
					said = append(said, midi.Hex(step.Send))
					require.NoError(t, step.Check())
				}
			}
			require.Equal(t, c.said, said)
			if c.fails != "" {
				require.Empty(t, step.Answers, "CANCEL is not answered")
				err := r.Take(nil)
				require.ErrorContains(t, err, c.fails)
				require.Equal(t, c.damaged, isDamaged(err))
				return
			}
			require.NoError(t, err)
			require.False(t, more)
			slot, got, err := d.SlotMemory(r.Messages())
			require.NoError(t, err)
			require.Equal(t, 3, slot)
			require.Equal(t, memory, got)
			require.Error(t, r.Take(nil), "it is over")
		})
	}
}

func shake(t testing.TB, h midi.Handshake, packet int) []byte {
	t.Helper()
	m, err := h.Message(0x7E, packet)
	require.NoError(t, err)
	return m
}

func isDamaged(err error) bool { return errors.Is(err, ErrDamaged) }

func TestAHandshakeIsNotSentAgain(t *testing.T) {
	d := openParameter(t)
	r, err := d.ReadSlot(5, 3)
	require.NoError(t, err)
	step, _ := r.Next()
	require.Zero(t, step.Silence, "a request is")
	for h, means := range map[midi.Handshake]midi.Meaning{midi.WAIT: midi.Hold, midi.CANCEL: midi.Refused, midi.NAK: midi.Damaged} {
		a, fits := step.Answer(shake(t, h, 9))
		require.True(t, fits)
		require.Equal(t, means, a.Means, h.String())
	}
	header, err := midi.FileDump{Device: 0x7E, Source: 5, Type: "BIN ", Name: "MEM03", Length: 32}.Header()
	require.NoError(t, err)
	require.NoError(t, r.Take(header))
	step, _ = r.Next()
	require.Equal(t, midi.Refused, step.Silence)
}

func FuzzSlotReading(f *testing.F) {
	d := openParameter(f)
	steps, err := d.WriteSlotSteps(5, 3, d.AppendSlot(nil, d.Rest()))
	require.NoError(f, err)
	f.Add(append(append(bytes.Clone(steps[0].Send), steps[1].Send...), 0xF0, 0x7E, 5, 0x7B, 0, 0xF7))
	f.Add([]byte{0xF0, 0x7E, 5, 7, 2, 0, 0, 0xF7})
	f.Fuzz(func(t *testing.T, stream []byte) {
		if slot, memory, err := d.SlotMemory(stream); err == nil {
			require.Len(t, memory, 32)
			require.NoError(t, d.CheckSlot(slot))
		}
		r, err := d.ReadSlot(5, 3)
		require.NoError(t, err)
		for _, m := range midi.Split(stream) {
			if r.Take(m) != nil {
				return
			}
			if step, more := r.Next(); more {
				require.NoError(t, step.Check())
			}
		}
	})
}

func TestAConversationEndedInTheMiddle(t *testing.T) {
	step, ok := openParameter(t).CancelStep(5)
	require.True(t, ok)
	require.NoError(t, step.Check())
	require.Equal(t, "F0 7E 05 7D 00 F7", midi.Hex(step.Send)) // M1 page 36: 7D is CANCEL
	require.Empty(t, step.Answers)
	for _, name := range []string{"five-line", "two-by-three", "tap-loop", "twin"} {
		d, err := Shipped(name)
		require.NoError(t, err)
		_, ok := d.CancelStep(0)
		require.False(t, ok, "a slot of %s takes no more than a message", name)
	}
}
