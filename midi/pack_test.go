package midi

import (
	"bytes"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

// The packing of the File Dump, MIDI 1.0 Detailed Specification 4.2.1 page 43:
// seven bytes become eight, first 0ABCDEFG with A the first byte's bit 7. In a
// short group the bits stay at the most significant end. Worked by hand; the
// mirrored form has the same bits in reverse order in the low seven.
func TestPacking(t *testing.T) {
	for _, tc := range []struct{ plain, firstHigh, firstLow string }{
		{"", "", ""},
		{"80", "40 00", "01 00"},
		{"FF", "40 7F", "01 7F"},
		// bits 1 0 1: 101 0000 and 000 0101
		{"80 01 82", "50 00 01 02", "05 00 01 02"},
		{"80 00 00 00 00 00 00", "40 00 00 00 00 00 00 00", "01 00 00 00 00 00 00 00"},
		{"00 00 00 00 00 00 80", "01 00 00 00 00 00 00 00", "40 00 00 00 00 00 00 00"},
		{"FF FF FF FF FF FF FF", "7F 7F 7F 7F 7F 7F 7F 7F", "7F 7F 7F 7F 7F 7F 7F 7F"},
		// bits 0 1 0 1 0 1 0: the same read from either end
		{"00 81 02 83 04 85 06", "2A 00 01 02 03 04 05 06", "2A 00 01 02 03 04 05 06"},
		// seven bits set, then one of one
		{"DE AD BE EF CA FE BA BE", "7F 5E 2D 3E 6F 4A 7E 3A 40 3E", "7F 5E 2D 3E 6F 4A 7E 3A 01 3E"},
		{"F0 F1 F2 F3 F4 F5 F6 F7 F8 F9 FA FB FC FD FE FF",
			"7F 70 71 72 73 74 75 76 7F 77 78 79 7A 7B 7C 7D 60 7E 7F",
			"7F 70 71 72 73 74 75 76 7F 77 78 79 7A 7B 7C 7D 03 7E 7F"},
	} {
		plain := bytesOf(t, tc.plain)
		for order, packed := range map[BitOrder]string{FirstHigh: tc.firstHigh, FirstLow: tc.firstLow} {
			t.Run(fmt.Sprintf("%s, %s", tc.plain, order), func(t *testing.T) {
				require.Equal(t, packed, Hex(AppendPacked(nil, plain, order)))
				got, err := AppendUnpacked([]byte{0xAA}, bytesOf(t, packed), order)
				require.NoError(t, err)
				require.Equal(t, append([]byte{0xAA}, plain...), got)
			})
		}
	}
}

func TestPackedLength(t *testing.T) {
	// n + n/7, rounded up; 128 encoded for 112 stored is printed on page 42.
	for n, want := range map[int]int{0: 0, 1: 2, 2: 3, 6: 7, 7: 8, 8: 10, 13: 15, 14: 16, 64: 74, 96: 110, 112: 128, 113: 130, 128: 147, 256: 293} {
		require.Equal(t, want, PackedLength(n), "%d bytes", n)
		require.Len(t, AppendPacked(nil, make([]byte, n), FirstHigh), want)
		back, err := UnpackedLength(want)
		require.NoError(t, err)
		require.Equal(t, n, back, "%d packed bytes", want)
	}
	for _, n := range []int{-1, 1, 9, 113} {
		_, err := UnpackedLength(n)
		require.ErrorContains(t, err, fmt.Sprintf("packed data of %d bytes", n))
	}
}

func TestUnpackRefuses(t *testing.T) {
	for _, tc := range []struct{ name, in, want string }{
		{"a head byte alone at the end", "00 01 02 03 04 05 06 07 00", "packed data of 9 bytes"},
		{"a byte of 8 bits", "00 01 82", "byte 2 is 82: wanted 00 to 7F"},
		{"a head byte of 8 bits", "80 01", "byte 0, the head of a group of 1, is 80"},
		{"the mirrored order", "05 00 01 02", `byte 0, the head of a group of 3, is 05: it has bits for bytes that are not there; is the order of bits other than "first high"?`},
	} {
		t.Run(tc.name, func(t *testing.T) {
			got, err := AppendUnpacked([]byte{0xAA}, bytesOf(t, tc.in), FirstHigh)
			require.ErrorContains(t, err, tc.want)
			require.Equal(t, []byte{0xAA}, got, "nothing is appended")
		})
	}
}

func FuzzPacking(f *testing.F) {
	f.Add([]byte("\x80\x01\x82"), false)
	f.Add([]byte("\x7F\x00"), true)
	f.Add(bytes.Repeat([]byte{0xFF}, 113), false)
	f.Fuzz(func(t *testing.T, b []byte, mirrored bool) {
		order := FirstHigh
		if mirrored {
			order = FirstLow
		}
		packed := AppendPacked(nil, b, order)
		require.Len(t, packed, PackedLength(len(b)))
		back, err := AppendUnpacked(nil, packed, order)
		require.NoError(t, err)
		require.True(t, bytes.Equal(b, back))
		// Whatever can be unpacked packs to the same bytes again.
		if plain, err := AppendUnpacked(nil, b, order); err == nil {
			require.True(t, bytes.Equal(b, AppendPacked(nil, plain, order)))
		}
	})
}

func BenchmarkPack96(b *testing.B) {
	plain := bytes.Repeat([]byte{0xA5}, 96)
	dst := make([]byte, 0, 128)
	b.SetBytes(96)
	b.ReportAllocs()
	for b.Loop() {
		dst = AppendPacked(dst[:0], plain, FirstHigh)
	}
}
