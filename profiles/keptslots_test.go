package profiles

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

func TestWhichSlotsProveThemselves(t *testing.T) {
	for name, want := range map[string]bool{
		"five-line":      true,                 // its memory has a CRC of 16 bits
		"two-by-three":   false,                // a sum of seven bits and one of eight
		"open-parameter": false,                // the packets of a File Dump have an exclusive or
		"tap-loop":       false, "twin": false, // they send nothing
	} {
		d, err := Shipped(name)
		require.NoError(t, err)
		require.Equal(t, want, d.ProvesSlots(), name)
	}
	require.False(t, parsed(t, plainDump).ProvesSlots(), "neither a sum nor a check")
	withSum := strings.Replace(plainDump, "{dump} F7", "({dump}) {sum} F7", 1) + "[checksum]\nkind = \"xor\"\n"
	require.False(t, parsed(t, withSum).ProvesSlots(), "seven bits")
	withCheck := plainDump + "[memory.check]\nkind = \"sum\"\nfrom = 0\nto = 2\nat = 3\n"
	require.False(t, parsed(t, withCheck).ProvesSlots(), "eight bits")
}

// Two wrong bits in the same place of two bytes are what an exclusive or does not
// see: one pair in seven, wherever they fall.
func TestWhatAnExclusiveOrLetsPass(t *testing.T) {
	packet, err := midi.AppendFilePacket(nil, 0, 0, []byte{1, 2, 3, 4, 5, 6, 7})
	require.NoError(t, err)
	passed, pairs := 0, 0
	for i := 7; i < len(packet)-2; i++ {
		for k := i + 1; k < len(packet)-2; k++ {
			for bits := range 49 {
				hurt := bytes.Clone(packet)
				hurt[i] ^= 1 << (bits / 7)
				hurt[k] ^= 1 << (bits % 7)
				pairs++
				if _, _, err := midi.ParseFilePacket(hurt); err == nil {
					passed++
				}
			}
		}
	}
	require.Equal(t, pairs, 7*passed)
}

const plainDump = `format = "echowright-device/1"
name = "plain"
[manners]
units = [0, 3]
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
[message.ask_slot]
send = "F0 7D 01 {unit} 10 {slot} F7"
reply = "F0 7D 01 {unit} 11 {slot} {dump} F7"
[memory]
slots = [0, 9]
bytes = 4
packing = "none"
`

// A file as people have them: what one program saved after another, with what a
// mailer, an editor or a bad cable left between.
func TestSlotsInAFileWithRubbish(t *testing.T) {
	d := fiveLine(t)
	memory := func(time int) []byte { return d.AppendSlot(nil, setting(t, d, map[string]int{"a-time": time})) }
	five, seven, sevenAgain := slotReply(t, d, 5, memory(500)), slotReply(t, d, 7, memory(700)), slotReply(t, d, 7, memory(701))
	written, err := d.WriteSlotStep(3, 9, memory(900))
	require.NoError(t, err)
	hurt := bytes.Clone(five)
	hurt[20] ^= 1
	hurt[4+1] = 6 // and of slot 6
	var file []byte
	at := map[string]int{}
	add := func(name string, b ...byte) {
		at[name] = len(file)
		file = append(file, b...)
	}
	add("text", []byte("saved on a Tuesday\r\n")...)
	add("seven", seven...)
	add("clock inside", slices.Insert(bytes.Clone(five), 40, 0xF8, 0xFE)...)
	add("other maker", 0xF0, 0x41, 0x10, 0x42, 0xF7)
	add("channel messages", 0xB0, 7, 100, 0xC0, 3)
	add("hurt", hurt...)
	add("cut short", five[:60]...)
	add("seven again", sevenAgain...)
	add("zeros", 0, 0, 0)
	add("written", written.Send...)
	add("an answer", 0xF0, 0x7D, 5, 0, 0x7F, 0x20, 0x61, 0xF7)
	add("cut at the end", five[:9]...)

	slots, passedOver, err := d.SlotsIn(file)
	require.NoError(t, err)
	var numbers, times []int
	for _, k := range slots {
		slot, memory, err := d.SlotMemory(k.Messages)
		require.NoError(t, err)
		require.Equal(t, k.Slot, slot)
		s, err := d.SlotSetting(memory)
		require.NoError(t, err)
		numbers, times = append(numbers, slot), append(times, s.Codes[d.Parameter("a-time")])
	}
	require.Equal(t, []int{5, 7, 9}, numbers)
	require.Equal(t, []int{500, 701, 900}, times, "of slot 7 the last; slot 9 from the message that writes it")

	place := func(name string, n int) string { return fmt.Sprintf("bytes %d to %d: ", at[name], at[name]+n-1) }
	for i, want := range []string{
		place("text", 20) + "no System Exclusive message",
		fmt.Sprintf("byte %d: slot 7: it comes again at byte %d, which counts", at["seven"], at["seven again"]),
		place("other maker", 5) + "no slot of device \"five-line\"",
		place("channel messages", 5) + "no System Exclusive message",
		place("hurt", 118) + "checksum",
		place("cut short", 60) + "a System Exclusive message that is cut short",
		place("zeros", 3) + "no System Exclusive message",
		place("an answer", 8) + "no slot of device \"five-line\"",
		place("cut at the end", 9) + "a System Exclusive message that is cut short",
	} {
		require.Greater(t, len(passedOver), i)
		require.True(t, strings.HasPrefix(passedOver[i], want), "%q: wanted %q", passedOver[i], want)
	}
	require.Len(t, passedOver, 9)
}

// A sum of 7 bits lets one damage in 128 through; the memory's own check does not.
func TestSlotsInKnowsAMemoryByItsOwnCheck(t *testing.T) {
	d := fiveLine(t)
	reply := slotReply(t, d, 5, d.AppendSlot(nil, d.Rest()))
	reply[20]++ // a zero of line b …
	reply[84]-- // … and a space of the name: the sum stays
	slots, passedOver, err := d.SlotsIn(reply)
	require.NoError(t, err)
	require.Empty(t, slots)
	require.Len(t, passedOver, 1)
	require.Contains(t, passedOver[0], "bytes 0 to 117: slot 5: the memory's own check is")
}

func TestFileDumpsInAFile(t *testing.T) {
	d := openParameter(t)
	dump := func(slot, feedback int) [][]byte {
		steps, err := d.WriteSlotSteps(5, slot, d.AppendSlot(nil, setting(t, d, map[string]int{"feedback": feedback})))
		require.NoError(t, err)
		return [][]byte{steps[0].Send, steps[1].Send, steps[2].Send}
	}
	three, four, five := dump(3, 300), dump(4, 400), dump(5, 500)
	hurt := bytes.Clone(three[1])
	hurt[12] ^= 1
	song, err := midi.FileDump{Device: 5, Source: 0x7E, Type: "MIDI", Name: "SONG"}.Header()
	require.NoError(t, err)
	three[0] = bytes.Clone(three[0])
	ack := shake(t, midi.ACK, 0)
	var file []byte
	for _, m := range [][]byte{
		three[0], hurt, shake(t, midi.NAK, 0), three[1], three[2], // bytes 0 to 19, 20 to 65
		song, three[1], // a file of another kind, with a packet
		four[0], ack, // and its packet is lost
		five[0], ack, five[1], ack, five[2],
	} {
		file = append(file, m...)
	}
	slots, passedOver, err := d.SlotsIn(file)
	require.NoError(t, err)
	require.Len(t, slots, 2)
	for i, want := range []struct{ slot, feedback int }{{3, 300}, {5, 500}} {
		slot, memory, err := d.SlotMemory(slots[i].Messages)
		require.NoError(t, err)
		require.Equal(t, want.slot, slot)
		s, err := d.SlotSetting(memory)
		require.NoError(t, err)
		require.Equal(t, want.feedback, s.Codes[d.Parameter("feedback")])
	}
	// Header 20 bytes, packet 46, handshake 6, the song's header 19.
	require.Equal(t, []string{
		"bytes 20 to 65: slot 3: packet 0: checksum " + midi.Hex(hurt[44:45]) + ", its bytes give " + midi.Hex([]byte{midi.XOR(hurt[1:44])}) + ": checksum does not hold",
		"bytes 124 to 142: a file dump that is no slot of device \"open-parameter\": type \"MIDI\": \"BIN \" wanted",
		"bytes 143 to 188: packet 0 of a file dump whose beginning is not there",
		"byte 189: slot 4: its file dump ends after 0 bytes of 32",
	}, passedOver)
}

func TestSlotsOfADeviceThatSendsNone(t *testing.T) {
	for _, name := range []string{"tap-loop", "twin"} {
		d, err := Shipped(name)
		require.NoError(t, err)
		_, _, err = d.SlotsIn([]byte{0xF0, 0xF7})
		require.ErrorIs(t, err, ErrCannot)
		require.ErrorContains(t, err, "find its slots in a file")
	}
}

func TestASlotOutOfTheDevicesRange(t *testing.T) {
	d := parsed(t, plainDump)
	slots, passedOver, err := d.SlotsIn([]byte{0xF0, 0x7D, 1, 0, 0x11, 10, 1, 2, 3, 4, 0xF7, 0xF0, 0x7D, 1, 2, 0x11, 9, 1, 2, 3, 4, 0xF7})
	require.NoError(t, err)
	require.Equal(t, []KeptSlot{{Slot: 9, Messages: []byte{0xF0, 0x7D, 1, 2, 0x11, 9, 1, 2, 3, 4, 0xF7}}}, slots, "whatever the unit's number was")
	require.Equal(t, []string{"bytes 0 to 10: slot 10: device \"plain\" has slots 0 to 9"}, passedOver)
}

// Whatever lies between: every byte belongs to a span, in order, and none to two.
func FuzzSlotsIn(f *testing.F) {
	d := fiveLine(f)
	open := openParameter(f)
	two := twoByThree(f)
	write, err := d.WriteSlotStep(0, 5, d.AppendSlot(nil, d.Rest()))
	require.NoError(f, err)
	f.Add(append([]byte("x\x00"), write.Send...))
	steps, err := open.WriteSlotSteps(5, 3, open.AppendSlot(nil, open.Rest()))
	require.NoError(f, err)
	f.Add(append(append(bytes.Clone(steps[0].Send), steps[1].Send...), 0xF0, 0x7E, 5, 0x7B, 0, 0xF7))
	f.Add([]byte{0xF0, 0xF0, 0x7E, 0xF8, 0x90, 0xF7, 0xF7, 5})
	f.Fuzz(func(t *testing.T, stream []byte) {
		at := 0
		for _, s := range sysexSpans(stream) {
			require.Equal(t, at, s.at)
			require.Greater(t, s.end, s.at)
			at = s.end
		}
		require.Equal(t, len(stream), at)
		for _, d := range []*Device{d, open, two} {
			slots, _, err := d.SlotsIn(stream)
			require.NoError(t, err)
			for _, k := range slots {
				slot, memory, err := d.SlotMemory(k.Messages)
				require.NoError(t, err)
				require.Equal(t, k.Slot, slot)
				require.Len(t, memory, d.memory.bytes)
			}
		}
	})
}

// What is kept of random settings comes back from among random rubbish.
func TestKeptSlotsComeBack(t *testing.T) {
	random := rand.New(rand.NewPCG(21, 1))
	for _, name := range []string{"five-line", "open-parameter", "two-by-three"} {
		d, err := Shipped(name)
		require.NoError(t, err)
		var file []byte
		want := map[int][]byte{}
		for slot := d.FirstSlot; slot <= d.LastSlot; slot++ {
			s := d.Rest()
			s.Codes[0] = d.Parameters[0].Scale.Low + random.IntN(500)
			want[slot] = d.AppendSlot(nil, s)
			steps, err := d.WriteSlotSteps(1, slot, want[slot])
			require.NoError(t, err)
			for _, step := range steps {
				file = append(file, step.Send...)
			}
			for range random.IntN(9) {
				file = append(file, byte(random.IntN(128)))
			}
		}
		slots, _, err := d.SlotsIn(file)
		require.NoError(t, err)
		require.Len(t, slots, len(want))
		for _, k := range slots {
			_, memory, err := d.SlotMemory(k.Messages)
			require.NoError(t, err)
			require.Equal(t, want[k.Slot], memory, "%s slot %d", name, k.Slot)
		}
	}
}
