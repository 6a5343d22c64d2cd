package midi

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Worked by hand from the rules in the comments of the functions: 40+00+7F+00 =
// BFh, its low 7 bits 3F, which 41 makes 80h.
func TestSums(t *testing.T) {
	for _, tc := range []struct {
		in                 string
		twos, ones, sum, x byte
	}{
		{"40 00 7F 00", 0x41, 0x40, 0x3F, 0x3F},
		{"01 02 03 04 05", 0x71, 0x70, 0x0F, 0x01},
		{"7F 7F 7F", 0x03, 0x02, 0x7D, 0x7F},
		{"40 11 00 41 63", 0x0B, 0x0A, 0x75, 0x73},
		{"10 00 00 00 06", 0x6A, 0x69, 0x16, 0x16},
		{"7F", 0x01, 0x00, 0x7F, 0x7F},
		{"00", 0x00, 0x7F, 0x00, 0x00},
		{"40 40", 0x00, 0x7F, 0x00, 0x00}, // the sum is 80h: 00, not 80
		{"", 0x00, 0x7F, 0x00, 0x00},
	} {
		t.Run(tc.in, func(t *testing.T) {
			b := bytesOf(t, tc.in)
			require.Equal(t, tc.twos, TwosComplement(b), "two's complement")
			require.Equal(t, tc.ones, OnesComplement(b), "one's complement")
			require.Equal(t, tc.sum, PlainSum(b), "plain sum")
			require.Equal(t, tc.x, XOR(b), "exclusive or")
			require.Zero(t, PlainSum(append(b, TwosComplement(b))), "with its two's complement the sum is 0")
		})
	}
}

// Sample Dump and File Dump of the MIDI 1.0 Detailed Specification 4.2.1, pages
// 37 to 43.
func TestDumpChecksums(t *testing.T) {
	silence := append([]byte{0x7E, 0x00, 0x02, 0x00}, make([]byte, 120)...)
	require.EqualValues(t, 0x7C, XOR(silence), "7E ⊕ 00 ⊕ 02 ⊕ 00, and 120 zeros")

	ramp := []byte{0x7E, 0x00, 0x02, 0x05}
	for i := range 120 {
		ramp = append(ramp, byte(7*i+3)&0x7F)
	}
	require.EqualValues(t, 0x59, XOR(ramp), "packet 5 with bytes 7i+3")

	// The first 14 bytes of a format 0 file at 96 ticks a quarter note, packed
	// into 16, in packet 0 for unit 1; the count byte is 16 − 1.
	header := bytesOf(t, "4D 54 68 64 00 00 00 06 00 00 00 01 00 60")
	body := AppendPacked(bytesOf(t, "7E 01 07 02 00 0F"), header, FirstHigh)
	message, err := SysEx(append(body, XOR(body)))
	require.NoError(t, err)
	require.Equal(t, "F0 7E 01 07 02 00 0F 00 4D 54 68 64 00 00 00 00 06 00 00 00 01 00 60 07 F7", Hex(message))
}

// Check values for "123456789" from the Catalogue of parametrised CRC algorithms
// (G. Cook), as the Rust crates crc-catalog and crc16 carry them.
func TestCRC16(t *testing.T) {
	for _, tc := range []struct {
		name string
		crc  CRC16
		want uint16
	}{
		{"CCITT-FALSE (IBM-3740)", CCITTFalse(), 0x29B1},
		{"XMODEM", CRC16{Poly: 0x1021}, 0x31C3},
		{"KERMIT", CRC16{Poly: 0x1021, ReflectIn: true, ReflectOut: true}, 0x2189},
		{"X-25", CRC16{Poly: 0x1021, Init: 0xFFFF, ReflectIn: true, ReflectOut: true, XorOut: 0xFFFF}, 0x906E},
		{"MCRF4XX", CRC16{Poly: 0x1021, Init: 0xFFFF, ReflectIn: true, ReflectOut: true}, 0x6F91},
		{"GENIBUS", CRC16{Poly: 0x1021, Init: 0xFFFF, XorOut: 0xFFFF}, 0xD64E},
		{"ARC", CRC16{Poly: 0x8005, ReflectIn: true, ReflectOut: true}, 0xBB3D},
		{"MODBUS", CRC16{Poly: 0x8005, Init: 0xFFFF, ReflectIn: true, ReflectOut: true}, 0x4B37},
		{"USB", CRC16{Poly: 0x8005, Init: 0xFFFF, ReflectIn: true, ReflectOut: true, XorOut: 0xFFFF}, 0xB4C8},
		{"BUYPASS (UMTS)", CRC16{Poly: 0x8005}, 0xFEE8},
	} {
		t.Run(tc.name, func(t *testing.T) {
			require.Equalf(t, tc.want, tc.crc.Sum([]byte("123456789")), "wanted %04X", tc.want)
		})
	}
	require.EqualValues(t, 0xFFFF, CCITTFalse().Sum(nil), "of nothing it is the start value")
}

// A property of every CRC without reflection and final XOR: with the check
// behind the data the register comes out 0.
func FuzzCRC16(f *testing.F) {
	f.Add([]byte("123456789"), uint16(0x1021), uint16(0xFFFF))
	f.Add([]byte{}, uint16(0x8005), uint16(0))
	f.Fuzz(func(t *testing.T, b []byte, poly, start uint16) {
		c := CRC16{Poly: poly, Init: start}
		check := c.Sum(b)
		require.Zero(t, c.Sum(append(b[:len(b):len(b)], byte(check>>8), byte(check))))
	})
}

func BenchmarkCCITTFalse94(b *testing.B) {
	slot := make([]byte, 94)
	b.SetBytes(94)
	b.ReportAllocs()
	for b.Loop() {
		CCITTFalse().Sum(slot)
	}
}
