package profiles

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

// smallMemory is a device whose slots have six bytes, with a time in the first
// two and what the keys say.
func smallMemory(memory, field, checksum string) string {
	return `format = "echowright-device/1"
name = "small"
[manners]
units = [0, 15]
` + checksum + `
[message.write_slot]
send = "F0 7D {unit} ({slot} {dump}) {sum} F7"
[message.ask_slot]
send = "F0 7D {unit} {slot} F7"
reply = "F0 7D {unit} ({slot} {dump}) {sum} F7"
[memory]
slots = [0, 9]
bytes = 6
` + memory + `
[scale.time]
unit = "ms"
codes = [0, 9999]
linear = { code = 0, is = 0.0, step = 1.0 }
[line]
names = ["a"]
[[line.parameter]]
role = "time"
scale = "time"
memory = ` + field
}

const plainSum = "[checksum]\nkind = \"sum\""

// 1234 = 04D2h. Packed by hand: of 04 D2 00 00 00 00 the second has its top bit,
// which is bit 5 of the head, or mirrored bit 1.
func TestHowASlotTravels(t *testing.T) {
	for _, c := range []struct{ packing, want string }{
		{"file-dump", "20 04 52 00 00 00 00"},
		{"mirrored", "02 04 52 00 00 00 00"},
		{"nibbles-high-first", "00 04 0D 02 00 00 00 00 00 00 00 00"},
		{"nibbles-low-first", "04 00 02 0D 00 00 00 00 00 00 00 00"},
	} {
		t.Run(c.packing, func(t *testing.T) {
			d := parsed(t, smallMemory(`packing = "`+c.packing+`"`, "{ at = 0, bytes = 2 }", plainSum))
			want := setting(t, d, map[string]int{"a-time": 1234})
			s, err := d.WriteSlotStep(1, 3, d.AppendSlot(nil, want))
			require.NoError(t, err)
			packed, err := midi.ParseHex(c.want)
			require.NoError(t, err)
			sum := 3
			for _, b := range packed {
				sum += int(b)
			}
			require.Equal(t, fmt.Sprintf("F0 7D 01 03 %s %02X F7", c.want, sum&0x7F), midi.Hex(s.Send))
			_, memory, err := d.SlotMemory(s.Send)
			require.NoError(t, err)
			got, err := d.SlotSetting(memory)
			require.NoError(t, err)
			require.Equal(t, want, got)
		})
	}
	d := parsed(t, smallMemory(`packing = "none"`, "{ at = 0, split = 128, low_at = 1 }", plainSum))
	s, err := d.WriteSlotStep(1, 3, d.AppendSlot(nil, setting(t, d, map[string]int{"a-time": 1234})))
	require.NoError(t, err)
	require.Equal(t, "F0 7D 01 03 09 52 00 00 00 00 5E F7", midi.Hex(s.Send), "1234 = 9·128 + 82")
	_, err = d.WriteSlotStep(1, 3, []byte{0x80, 0, 0, 0, 0, 0})
	require.ErrorContains(t, err, "byte 0 of the dump is 80")
}

// The rules with vectors: M1 for XOR; the others are arithmetic. The CRC's is that
// of the catalogues for "123456789": 29B1h for CRC-16/IBM-3740.
func TestSumsOfMessages(t *testing.T) {
	for _, c := range []struct{ name, checksum, place, bytes, want string }{
		{"two's complement", "kind = \"twos-complement\"", "{sum}", "40 11 00 41 63", "0B"},
		{"one's complement", "kind = \"ones-complement\"", "{sum}", "40 00 7F 00", "40"},
		{"plain sum", "kind = \"sum\"", "{sum}", "40 11 00 41 63", "75"},
		{"a sum that starts with 55h", "kind = \"sum\"\nstart = 0x55", "{sum}", "01 02", "58"},
		{"XOR", "kind = \"xor\"", "{sum}", "40 11 00 41 63", "73"},
		// 40h + 11h + 41h + 63h = F5h, all eight bits in nibbles
		{"a sum of 8 bits in nibbles", "kind = \"sum\"", "{sum:4x2}", "40 11 00 41 63", "0F 05"},
		// 29B1h = 0·16384 + 53h·128 + 31h: 10 1001 1011 0001 → 00 | 1010011 | 0110001
		{"a CRC in three bytes", "kind = \"crc-16\"\npolynomial = 0x1021\nstart = 0xFFFF", "{sum}", "31 32 33 34 35 36 37 38 39", "00 53 31"},
		{"a CRC in three bytes, low bits first", "kind = \"crc-16\"\npolynomial = 0x1021\nstart = 0xFFFF", "{sum:7x3<}", "31 32 33 34 35 36 37 38 39", "31 53 00"},
		{"a CRC in nibbles", "kind = \"crc-16\"\npolynomial = 0x1021\nstart = 0xFFFF", "{sum:4x4}", "31 32 33 34 35 36 37 38 39", "02 09 0B 01"},
		// CRC-16/ARC: reflected 8005h, BB3Dh
		{"a reflected CRC in nibbles", "kind = \"crc-16\"\npolynomial = 0x8005\nreflected = true", "{sum:4x4}", "31 32 33 34 35 36 37 38 39", "0B 0B 03 0D"},
		// CRC-16/GENIBUS: as the first, with a final XOR of FFFFh: D64Eh
		{"a CRC with a final XOR", "kind = \"crc-16\"\npolynomial = 0x1021\nstart = 0xFFFF\nfinal_xor = 0xFFFF", "{sum:hex4}", "31 32 33 34 35 36 37 38 39", "44 36 34 45"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := parsed(t, oneLine("[checksum]\n"+c.checksum, "send = \"F0 7D ("+c.bytes+") "+c.place+" {value} F7\"", "127"))
			s, err := d.SetStep(1, 0, 5)
			require.NoError(t, err)
			require.Equal(t, "F0 7D "+c.bytes+" "+c.want+" 05 F7", midi.Hex(s.Send))
			s.Send[3] ^= 1
			told := d.Decoder(None).Feed(s.Send)
			require.Empty(t, told)
		})
	}
}

// Checks of the memory 04 D2 00 00 00 00 over its first four bytes: sum D6h, XOR
// D6h, two's complement 2Ah.
func TestChecksInsideAMemory(t *testing.T) {
	for _, c := range []struct{ name, check, want string }{
		{"a sum", `kind = "sum", from = 0, to = 3, at = 4`, "04 D2 00 00 D6 00"},
		{"a sum of 7 bits", `kind = "sum", bits = 7, from = 0, to = 3, at = 4`, "04 D2 00 00 56 00"},
		{"XOR", `kind = "xor", from = 0, to = 3, at = 5`, "04 D2 00 00 00 D6"},
		{"two's complement", `kind = "twos-complement", from = 0, to = 3, at = 4`, "04 D2 00 00 2A 00"},
		{"two's complement in two bytes", `kind = "twos-complement", bytes = 2, from = 0, to = 3, at = 4`, "04 D2 00 00 FF 2A"},
		{"the same, low byte first", `kind = "twos-complement", bytes = 2, low_first = true, from = 0, to = 3, at = 4`, "04 D2 00 00 2A FF"},
		{"one's complement", `kind = "ones-complement", from = 0, to = 3, at = 4`, "04 D2 00 00 29 00"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := parsed(t, smallMemory("packing = \"file-dump\"\ncheck = { "+c.check+" }", "{ at = 0, bytes = 2 }", plainSum))
			m := d.AppendSlot(nil, setting(t, d, map[string]int{"a-time": 1234}))
			require.Equal(t, c.want, midi.Hex(m))
			m[3] ^= 1
			_, err := d.SlotSetting(m)
			require.ErrorIs(t, err, ErrDamaged)
		})
	}
}

func TestFieldsOfMoreForms(t *testing.T) {
	for _, c := range []struct {
		name  string
		field field
		code  int
		want  string
	}{
		{"coarse and fine", field{at: 0, bytes: 1, split: 100, lowAt: 3}, 1234, "0C 00 00 22"},
		{"an offset", field{at: 1, bytes: 1, offset: 64}, -64, "00 00 00 00"},
		{"an offset upwards", field{at: 1, bytes: 1, offset: 64}, 5, "00 45 00 00"},
		{"two's complement", field{at: 1, bytes: 2, signed: true}, -2, "00 FF FE 00"},
		{"two's complement in four bits", field{at: 1, bytes: 1, signed: true, shift: 2, bits: 4}, -1, "00 3C 00 00"},
		{"twelve bits of two bytes", field{at: 1, bytes: 2, shift: 4, bits: 12}, 0xABC, "00 AB C0 00"},
		{"twelve bits of two bytes, low one first", field{at: 1, bytes: 2, low: true, shift: 4, bits: 12}, 0xABC, "00 C0 AB 00"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := make([]byte, 4)
			require.True(t, c.field.holds(c.code))
			c.field.put(m, c.code)
			require.Equal(t, c.want, midi.Hex(m))
			require.Equal(t, c.code, c.field.get(m))
		})
	}
}

func TestFixedBytesStandInEverySlot(t *testing.T) {
	d := parsed(t, smallMemory("packing = \"file-dump\"\nfixed = [{ at = 2, bytes = \"45 57\" }]", "{ at = 0, bytes = 2 }", plainSum))
	require.Equal(t, "00 00 45 57 00 00", midi.Hex(d.AppendSlot(nil, d.Rest())))
}
