package emulator

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestChecksumOfSevenBits(t *testing.T) {
	// (−Σ) & 7Fh, worked by hand; where the sum is a multiple of 80h it is 00.
	for _, c := range []struct {
		bytes []byte
		want  byte
	}{
		{[]byte{0x10, 0x00, 0x00, 0x00, 0x06}, 0x6A}, // 80h − 16h
		{[]byte{0x7F, 0x7F, 0x7F}, 0x03},             // 200h − 17Dh, 7 bits
		{[]byte{0x40, 0x40}, 0x00},
		{[]byte{0x00}, 0x00},
	} {
		require.Equal(t, c.want, -sum7(c.bytes)&0x7F, "% X", c.bytes)
		require.Zero(t, sum7(append(c.bytes, c.want)), "% X", c.bytes)
	}
}

func TestCRC(t *testing.T) {
	// The check value of CRC-16/CCITT-FALSE in the CRC catalogues, and Python 3's
	// binascii.crc_hqx(…, FFFFh).
	require.Equal(t, uint16(0x29B1), crc16([]byte("123456789")))
	require.Equal(t, uint16(0xFFFF), crc16(nil), "the start value")
	require.Equal(t, uint16(0xF14C), crc16(make([]byte, 32)), "binascii.crc_hqx(bytes(32), 0xFFFF)")
}

func TestPackingOfTheFileDump(t *testing.T) {
	// Layout: MIDI 1.0 Detailed Specification 4.2.1, File Dump; bytes by hand.
	for _, c := range []struct{ name, plain, packed string }{
		{"nothing", "", ""},
		{"one byte, its top bit in bit 6", "80", "40 00"},
		{"a short group fills from the top", "80 01 82", "50 00 01 02"},
		{"the seventh byte's top bit in bit 0", "00 00 00 00 00 00 80", "01 00 00 00 00 00 00 00"},
		{"all bits", "FF FF FF FF FF FF FF", "7F 7F 7F 7F 7F 7F 7F 7F"},
		{"every other", "00 81 02 83 04 85 06", "2A 00 01 02 03 04 05 06"},
		{"a group and one", "DE AD BE EF CA FE BA BE", "7F 5E 2D 3E 6F 4A 7E 3A 40 3E"},
	} {
		require.Equal(t, c.packed, toHex(pack(fromHex(t, c.plain))), c.name)
		require.Equal(t, c.plain, toHex(unpack(fromHex(t, c.packed))), c.name)
	}
}

func FuzzPacking(f *testing.F) {
	f.Add([]byte{0x80, 0x01, 0x82})
	f.Add(bytes.Repeat([]byte{0xFF}, memorySize))
	f.Fuzz(func(t *testing.T, plain []byte) {
		packed := pack(plain)
		require.Len(t, packed, len(plain)+(len(plain)+6)/7)
		for _, b := range packed {
			require.Less(t, b, byte(0x80))
		}
		require.True(t, bytes.Equal(plain, unpack(packed)))
	})
}
