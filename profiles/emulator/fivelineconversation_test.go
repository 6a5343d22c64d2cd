package emulator

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A turn of a conversation, worked by hand from the manual: the checksum is
// 80h less the sum of the bytes from the command on, in 7 bits. Numbers of 14
// bits go high 7 bits first.
type turn struct {
	name, send, answer string
}

func converse(t *testing.T, o Options, turns []turn) *bench {
	b := onBench(t, o)
	for _, turn := range turns {
		require.Equal(t, turn.answer, b.ask(turn.send), turn.name)
	}
	return b
}

func TestParametersAreSetAndAskedFor(t *testing.T) {
	b := converse(t, Options{}, []turn{
		// 121.0 ms = 1210 = 9·128 + 58 = 09 3A. 10+00+00+09+3A = 53h, 80h − 53h = 2Dh.
		// Acknowledged: 7F+10 = 8Fh, 100h − 8Fh = 71h.
		{"time of line A", "F0 7D 05 00 10 00 00 09 3A 2D F7", "F0 7D 05 00 7F 10 71 F7"},
		// 11h, 80h − 11h = 6Fh. Answer: 12+09+3A = 55h, 80h − 55h = 2Bh.
		{"asked for", "F0 7D 05 00 11 00 00 6F F7", "F0 7D 05 00 12 00 00 09 3A 2B F7"},
		// 16000 = 125·128 = 7D 00. 10+7D = 8Dh, 100h − 8Dh = 73h.
		{"longest time", "F0 7D 05 00 10 00 00 7D 00 73 F7", "F0 7D 05 00 7F 10 71 F7"},
		// 16001 = 7D 01; 100h − 8Eh = 72h. Refused: 7E+10+03 = 91h, 100h − 91h = 6Fh.
		{"a step beyond", "F0 7D 05 00 10 00 00 7D 01 72 F7", "F0 7D 05 00 7E 10 03 6F F7"},
		// Line E begins at 40h; polarity 42h: 10+42+01 = 53h.
		{"polarity of line E", "F0 7D 05 00 10 00 42 00 01 2D F7", "F0 7D 05 00 7F 10 71 F7"},
		// 122 = 7Ah: 10+01+7A = 8Bh, 100h − 8Bh = 75h.
		{"a level over 0 dB", "F0 7D 05 00 10 00 01 00 7A 75 F7", "F0 7D 05 00 7E 10 03 6F F7"},
		// 10+7B+21 = ACh, 100h − ACh = 54h.
		{"last letter of the name", "F0 7D 05 00 10 00 7B 00 21 54 F7", "F0 7D 05 00 7F 10 71 F7"},
		// 10+70+1F = 9Fh, 100h − 9Fh = 61h.
		{"a letter that is none", "F0 7D 05 00 10 00 70 00 1F 61 F7", "F0 7D 05 00 7E 10 03 6F F7"},
		// 10+07 = 17h, 80h − 17h = 69h. Refused: 7E+10+02 = 90h, 100h − 90h = 70h.
		{"an address between the lines", "F0 7D 05 00 10 00 07 00 00 69 F7", "F0 7D 05 00 7E 10 02 70 F7"},
		// Address 80h = 01 00: 11+01 = 12h, 6Eh. Refused: 7E+11+02 = 91h, 6Fh.
		{"an address beyond the last", "F0 7D 05 00 11 01 00 6E F7", "F0 7D 05 00 7E 11 02 6F F7"},
		// The first message with 2C for 2D. Refused: 7E+10+01 = 8Fh, 71h.
		{"a wrong checksum", "F0 7D 05 00 10 00 00 09 3A 2C F7", "F0 7D 05 00 7E 10 01 71 F7"},
		{"to all units", "F0 7D 05 7F 11 00 00 6F F7", "F0 7D 05 00 12 00 00 7D 00 71 F7"}, // 12+7D = 8Fh, 71h
		{"to another unit", "F0 7D 05 01 11 00 00 6F F7", ""},
		{"of another family", "F0 7D 06 00 11 00 00 6F F7", ""},
		{"of another maker", "F0 7C 05 00 11 00 00 6F F7", ""},
		{"an unknown command", "F0 7D 05 00 13 6D F7", ""},                                           // 80h − 13h = 6Dh
		{"a command that only the unit gives", "F0 7D 05 00 12 00 00 09 3A 2B F7", ""},               // as above
		{"a byte too few", "F0 7D 05 00 10 00 00 09 67 F7", ""},                                      // 10+09 = 19h, 67h
		{"a byte too many", "F0 7D 05 00 11 00 00 00 6F F7", ""},                                     // 6Fh
		{"too short with a wrong checksum", "F0 7D 05 00 11 00 6E F7", "F0 7D 05 00 7E 11 01 70 F7"}, // 7E+11+01 = 90h
		{"no room for a checksum", "F0 7D 05 00 10 F7", ""},
		{"nothing at all", "F0 7D 05 00 F7", ""},
		{"clock and active sensing inside", "F0 7D F8 05 00 11 FE 00 00 F8 F8 6F FE F7", "F0 7D 05 00 12 00 00 7D 00 71 F7"},
		{"broken off by a note", "F0 7D 05 00 11 00 00 90 6F F7", ""},
		{"broken off and begun again", "F0 7D 05 00 11 F0 7D 05 00 11 00 00 6F F7", "F0 7D 05 00 12 00 00 7D 00 71 F7"},
		{"stray bytes before it", "33 F7 44 F0 7D 05 00 11 00 00 6F F7", "F0 7D 05 00 12 00 00 7D 00 71 F7"},
	})
	require.Equal(t, 16000, b.code(0x00), "time of A")
	require.Equal(t, 1, b.code(0x42), "polarity of E")
	require.Equal(t, int('!'), b.code(0x7B), "last letter")
}

func TestARoutingThatComesBackIsRefused(t *testing.T) {
	// Power-up is slot 0, where D and E hear C. Refused: 7E+10+04 = 92h, 100h − 92h = 6Eh.
	const refusedRouting = "F0 7D 05 00 7E 10 04 6E F7"
	b := converse(t, Options{}, []turn{
		{"A hears itself", "F0 7D 05 00 10 00 04 00 01 6B F7", refusedRouting},                     // 10+04+01 = 15h
		{"B hears A", "F0 7D 05 00 10 00 14 00 01 5B F7", "F0 7D 05 00 7F 10 71 F7"},               // 10+14+01 = 25h
		{"C hears B", "F0 7D 05 00 10 00 24 00 02 4A F7", "F0 7D 05 00 7F 10 71 F7"},               // 10+24+02 = 36h
		{"A hears C: round three lines", "F0 7D 05 00 10 00 04 00 03 69 F7", refusedRouting},       // 10+04+03 = 17h
		{"A hears E, which hears C", "F0 7D 05 00 10 00 04 00 05 67 F7", refusedRouting},           // 10+04+05 = 19h
		{"a sixth line", "F0 7D 05 00 10 00 44 00 06 26 F7", "F0 7D 05 00 7E 10 03 6F F7"},         // 10+44+06 = 5Ah
		{"C hears the input again", "F0 7D 05 00 10 00 24 00 00 4C F7", "F0 7D 05 00 7F 10 71 F7"}, // 10+24 = 34h
		{"now A may hear C", "F0 7D 05 00 10 00 04 00 03 69 F7", "F0 7D 05 00 7F 10 71 F7"},
		{"B, by A, by C", "F0 7D 05 00 11 00 14 5B F7", "F0 7D 05 00 12 00 14 00 01 59 F7"}, // 12+14+01 = 27h
	})
	require.Equal(t, 3, b.code(0x04))
}

func TestIdentity(t *testing.T) {
	// MIDI 1.0 Detailed Specification 4.2.1, Device Inquiry: 15 bytes, family and
	// member low 7 bits first.
	turns := []turn{
		{"asked by number", "F0 7E 03 06 01 F7", "F0 7E 03 06 02 7D 05 00 01 00 01 00 00 00 F7"},
		{"asked with all", "F0 7E 7F 06 01 F7", "F0 7E 03 06 02 7D 05 00 01 00 01 00 00 00 F7"},
		{"another is asked", "F0 7E 04 06 01 F7", ""},
		{"a reply of another unit", "F0 7E 03 06 02 7D 05 00 01 00 01 00 00 00 F7", ""},
		{"another universal message", "F0 7E 03 09 01 F7", ""},
		{"a word too long", "F0 7E 03 06 01 00 F7", ""},
		{"real time", "F0 7F 03 06 01 F7", ""},
		{"its own commands by its number", "F0 7D 05 03 31 40 0F F7", "F0 7D 05 03 7E 31 02 4F F7"},
	}
	converse(t, Options{Unit: 3}, turns)
}

func TestSlotsAreLoadedAndStored(t *testing.T) {
	b := onBench(t, Options{})
	first, second := b.slots[0], b.slots[1]
	for _, turn := range []turn{
		// 31+01 = 32h, 4Eh. Acknowledged: 7F+31 = B0h, 50h.
		{"load slot 1", "F0 7D 05 00 31 01 4E F7", "F0 7D 05 00 7F 31 50 F7"},
		// 30+3F = 6Fh, 11h. Acknowledged: 7F+30 = AFh, 51h.
		{"store in slot 63", "F0 7D 05 00 30 3F 11 F7", "F0 7D 05 00 7F 30 51 F7"},
		{"load slot 64", "F0 7D 05 00 31 40 0F F7", "F0 7D 05 00 7E 31 02 4F F7"},     // 31+40 = 71h; 7E+31+02 = B1h
		{"store in slot 64", "F0 7D 05 00 30 40 10 F7", "F0 7D 05 00 7E 30 02 50 F7"}, // 30+40 = 70h; 7E+30+02 = B0h
		{"ask for slot 64", "F0 7D 05 00 20 40 20 F7", "F0 7D 05 00 7E 20 02 60 F7"},  // 20+40 = 60h; 7E+20+02 = A0h
	} {
		require.Equal(t, turn.answer, b.ask(turn.send), turn.name)
	}
	require.Equal(t, second, b.edit)
	require.Equal(t, second, b.slots[63])
	require.Equal(t, first, b.slots[0])
}

func TestAStoredEditBufferHasItsOwnCRC(t *testing.T) {
	b := onBench(t, Options{})
	b.ask("F0 7D 05 00 10 00 00 09 3A 2D F7")
	b.ask("F0 7D 05 00 30 02 4E F7") // 30+02 = 32h
	stored := b.slots[2]
	require.Equal(t, byte(0xBA), stored[0], "1210 = 04BAh, low byte")
	require.Equal(t, byte(0x04), stored[1])
	// A message followed by its CRC, high byte first, has CRC 0.
	require.Zero(t, crc16(stored[:]))
	require.NotEqual(t, b.slots[0][crcAt:], stored[crcAt:])
}

func TestWriteProtection(t *testing.T) {
	b := onBench(t, Options{WriteProtected: true})
	before := b.slots
	for _, turn := range []turn{
		{"store", "F0 7D 05 00 30 02 4E F7", "F0 7D 05 00 7E 30 05 4D F7"},   // 7E+30+05 = B3h
		{"overwrite", overwrite(2, before[5]), "F0 7D 05 00 7E 22 05 5B F7"}, // 7E+22+05 = A5h
		{"load", "F0 7D 05 00 31 01 4E F7", "F0 7D 05 00 7F 31 50 F7"},
		{"set", "F0 7D 05 00 10 00 00 09 3A 2D F7", "F0 7D 05 00 7F 10 71 F7"},
	} {
		require.Equal(t, turn.answer, b.ask(turn.send), turn.name)
	}
	require.Equal(t, before, b.slots)
	b.Protect(false)
	require.Equal(t, "F0 7D 05 00 7F 30 51 F7", b.ask("F0 7D 05 00 30 02 4E F7"))
	require.Equal(t, byte(0xBA), b.slots[2][0])
}

func TestChecksStandInTheManualsOrder(t *testing.T) {
	// Each message is wrong in all that follows; refused for the first of it.
	bad := memory{}
	bad.setLine(0, line{level: 122, source: 1}) // value and routing
	looped := memory{}
	looped.setLine(0, line{source: 1})
	looped.setName("")
	refusal := func(why reason) string { return framed(0x7E, 0x22, byte(why)) }

	b := onBench(t, Options{WriteProtected: true})
	wrongSum := overwriteUnsealed(64, bad)
	wrongSum = wrongSum[:len(wrongSum)-len("00 F7")] + "55 F7"
	require.Equal(t, refusal(badChecksum), b.ask(wrongSum))
	require.Empty(t, b.ask(framed(0x22, 64)), "length before slot")
	require.Equal(t, refusal(badPlace), b.ask(overwriteUnsealed(64, bad)))
	require.Equal(t, refusal(writeProtected), b.ask(overwriteUnsealed(63, bad)))
	b.Protect(false)
	require.Equal(t, refusal(badChecksum), b.ask(overwriteUnsealed(63, bad)))
	require.Equal(t, refusal(badValue), b.ask(overwrite(63, bad)))
	require.Equal(t, refusal(badRouting), b.ask(overwrite(63, looped)))

	b.arrive(overwrite(63, b.slots[1]))
	require.Empty(t, b.pass(100*time.Millisecond))
	b.arrive(wrongSum)
	require.Equal(t, refusal(busy), b.pass(100*time.Millisecond))
	b.arrive("F0 7D 05 00 13 00 F7")
	require.Equal(t, framed(0x7E, 0x13, byte(busy)), b.pass(50*time.Millisecond))
	require.Equal(t, framed(0x7F, 0x22), b.pass(time.Second))
}

// overwriteUnsealed is 22h with whatever stands where the CRC should.
func overwriteUnsealed(slot byte, m memory) string {
	return framed(0x22, append([]byte{slot}, pack(m[:])...)...)
}
