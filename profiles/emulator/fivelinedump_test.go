package emulator

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// threeHeads is a memory packed by hand: 121, 263 and 405 ms with −7, 0, −2 dB
// (common practice, no source), the loop from the last, repeated by D and E.
//
//	A   1210 = 04BAh, level −7 dB  = 107 = 6Bh, high cut off = 1Fh
//	B   2630 = 0A46h, level  0 dB  = 121 = 79h
//	C   4050 = 0FD2h, level −2 dB  = 117 = 75h, feedback 58 = 3Ah
//	D   as A, −14 dB = 93 = 5Dh, source C = 3
//	E   as B,  −7 dB = 107 = 6Bh, source C
//	dry level 0 dB = 79h, name "THREE HEADS "
//
// CRC A5B1h by binascii.crc_hqx(bytes 0 to 93, FFFFh) of Python 3. Each row is
// a group of seven under its top bits; the sums of the rows, top bits included,
// are 264 80 152 280 31 190 101 151 121 156 458 183 0 98, together 2265.
var threeHeads = strings.Join([]string{
	"40 3A 04 6B 00 00 00 1F", // A: BAh has a top bit, first of its group: 40h
	"00 00 00 00 00 00 46 0A", // B from the sixth on
	"00 79 00 00 00 1F 00 00",
	"08 00 00 00 52 0F 75 3A", // C from the fourth on: D2h there, 08h
	"00 00 00 1F 00 00 00 00",
	"20 00 3A 04 5D 00 00 03", // D from the second on: BAh there, 20h
	"00 1F 00 00 00 00 00 46", // E from the last on
	"00 0A 6B 00 00 03 1F 00",
	"00 00 00 00 00 79 00 00", // byte 60, the fifth
	"00 00 00 00 00 00 54 48", // the name from the sixth on
	"00 52 45 45 20 48 45 41",
	"00 44 53 20 00 00 00 00",
	"00 00 00 00 00 00 00 00",
	"0C 00 00 00 25 31", // A5h fourth and B1h fifth of five: 08h + 04h
}, " ")

func TestASlotIsOverwrittenAndAskedFor(t *testing.T) {
	b := onBench(t, Options{})
	sounding := b.edit
	// 22h + 05h + 2265 = 2304 = 18·128: nothing is missing, the checksum is 00.
	require.Equal(t, "F0 7D 05 00 7F 22 5F F7", // 7F+22 = A1h
		b.ask("F0 7D 05 00 22 05 "+threeHeads+" 00 F7"))
	// 21h + 05h + 2265 = 2303 = 17·128 + 127: checksum 01.
	require.Equal(t, "F0 7D 05 00 21 05 "+threeHeads+" 01 F7",
		b.ask("F0 7D 05 00 20 05 5B F7")) // 20+05 = 25h
	require.Equal(t, sounding, b.edit, "what sounds is the edit buffer")

	require.Equal(t, line{time: 4050, level: 117, feedback: 58, highCut: 31}, b.slots[5].line(2))
	require.Equal(t, line{time: 2630, level: 107, source: 3, highCut: 31}, b.slots[5].line(4))
	require.Equal(t, "THREE HEADS ", string(b.slots[5][68:80]))

	b.ask("F0 7D 05 00 31 05 4A F7")                     // 31+05 = 36h
	require.Equal(t, "F0 7D 05 00 12 00 20 1F 52 5D F7", // 4050 = 31·128 + 82; 12+20+1F+52 = A3h
		b.ask("F0 7D 05 00 11 00 20 4F F7")) // 11+20 = 31h
}

func TestAWrongCRCIsAnsweredAsAChecksum(t *testing.T) {
	b := onBench(t, Options{})
	before := b.slots
	wrong := strings.TrimSuffix(threeHeads, "31") + "32"
	// 2305 = 18·128 + 1: checksum 7F, right; the CRC ends B2h for B1h. 7E+22+01 = A1h.
	require.Equal(t, "F0 7D 05 00 7E 22 01 5F F7", b.ask("F0 7D 05 00 22 05 "+wrong+" 7F F7"))
	// The memory right, the checksum 01 for 00.
	require.Equal(t, "F0 7D 05 00 7E 22 01 5F F7", b.ask("F0 7D 05 00 22 05 "+threeHeads+" 01 F7"))
	require.Equal(t, before, b.slots)
}

func TestBitsThatThePackingLeavesOverAreNotLookedAt(t *testing.T) {
	b := onBench(t, Options{})
	// The last group's top bits are 0C; bits 0 and 1 belong to no byte. Three more: checksum 80h − 3.
	spare := strings.TrimSuffix(threeHeads, "0C 00 00 00 25 31") + "0F 00 00 00 25 31"
	require.Equal(t, "F0 7D 05 00 7F 22 5F F7", b.ask("F0 7D 05 00 22 05 "+spare+" 7D F7"))
	require.Equal(t, "F0 7D 05 00 21 05 "+threeHeads+" 01 F7", b.ask("F0 7D 05 00 20 05 5B F7"))
}

func TestEachByteOfASlotIsLookedAt(t *testing.T) {
	good := onBench(t, Options{}).slots[0]
	cases := []struct {
		name  string
		at    int
		value byte
		why   reason
	}{
		{"time high byte: 16000 = 3E80h", 1, 0x3F, badValue},
		{"level", 2, 122, badValue},
		{"feedback", 3, 128, badValue},
		{"a flag without meaning", 4, 0x02, badValue},
		{"source", 5, 6, badValue},
		{"high cut", 6, 32, badValue},
		{"low cut", 7, 32, badValue},
		{"the zeros of line E", 48 + 11, 1, badValue},
		{"dry level", 60, 122, badValue},
		{"drive", 61, 101, badValue},
		{"wobble rate: 1000 = 03E8h", 63, 4, badValue},
		{"wobble depth", 64, 201, badValue},
		{"the zeros before the name", 67, 1, badValue},
		{"name: a control character", 68, 0x1F, badValue},
		{"name: beyond the last character", 79, 0x7F, badValue},
		{"the zeros after the name", 93, 1, badValue},
		{"C hears D, which hears C", 24 + 5, 4, badRouting},
		{"B hears itself", 12 + 5, 2, badRouting},
		{"polarity", 4, 1, fine},
		{"feedback as it may be", 3, 127, fine},
		{"E hears A", 48 + 5, 1, fine},
	}
	for _, c := range cases {
		b := onBench(t, Options{})
		before := b.slots
		changed := good
		changed[c.at] = c.value
		answer := b.ask(overwrite(7, changed))
		if c.why == fine {
			require.Equal(t, framed(0x7F, 0x22), answer, c.name)
			require.Equal(t, c.value, b.slots[7][c.at], c.name)
			continue
		}
		require.Equal(t, framed(0x7E, 0x22, byte(c.why)), answer, c.name)
		require.Equal(t, before, b.slots, c.name)
	}
}

func TestThePackedSlotIsAlways110Bytes(t *testing.T) {
	b := onBench(t, Options{})
	for slot := range byte(fiveLineSlots) {
		answer := fromHex(t, b.ask(framed(0x20, slot)))
		require.Len(t, answer, 4+2+110+2, "F0, maker, family, unit; command, slot; memory; checksum, F7")
		require.Equal(t, b.slots[slot][:], unpack(answer[6:116]), "slot %d", slot)
	}
}
