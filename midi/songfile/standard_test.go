package songfile

import (
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

// at is an event for tests, its bytes in hex.
func at(tick Tick, hex string) Event {
	b, err := midi.ParseHex(hex)
	if err != nil {
		panic(err)
	}
	return Event{tick, b}
}

func unhex(t *testing.T, text string) []byte {
	t.Helper()
	b, err := midi.ParseHex(text)
	require.NoError(t, err)
	return b
}

// The piece of music that RP-001 gives as its example: 4/4, 120 quarters a minute
// (07 A1 20 = 500,000 µs), 96 ticks (00 60) a quarter, three instruments.
//
// Its one track in format 0 has two notes of channel 3 at 0, one of channel 2
// after a quarter, one of channel 1 after two, and all end after four: 192 ticks
// (81 40) on. The chunk is 16 bytes of the two meta events with their delta times
// (8 + 7 = 15) and so on, 3B = 59 in all.
const standardFormat0 = `
4D 54 68 64 00 00 00 06 00 00 00 01 00 60
4D 54 72 6B 00 00 00 3B
00 FF 58 04 04 02 18 08
00 FF 51 03 07 A1 20
00 C0 05
00 C1 2E
00 C2 46
00 92 30 60
00 3C 60
60 91 43 40
60 90 4C 20
81 40 82 30 40
00 3C 40
00 81 43 40
00 80 4C 40
00 FF 2F 00`

// The same in format 1, where notes end with a velocity of 0 under running status.
const standardFormat1 = `
4D 54 68 64 00 00 00 06 00 01 00 04 00 60
4D 54 72 6B 00 00 00 14
00 FF 58 04 04 02 18 08
00 FF 51 03 07 A1 20
83 00 FF 2F 00
4D 54 72 6B 00 00 00 10
00 C0 05
81 40 90 4C 20
81 40 4C 00
00 FF 2F 00
4D 54 72 6B 00 00 00 0F
00 C1 2E
60 91 43 40
82 20 43 00
00 FF 2F 00
4D 54 72 6B 00 00 00 15
00 C2 46
00 92 30 60
00 3C 60
83 00 30 00
00 3C 00
00 FF 2F 00`

var standardFiles = []struct {
	name  string
	bytes string
	file  File
}{
	{"format 0", standardFormat0, File{0, 96, []Track{{[]Event{
		at(0, "FF 58 04 02 18 08"),
		at(0, "FF 51 07 A1 20"),
		at(0, "C0 05"),
		at(0, "C1 2E"),
		at(0, "C2 46"),
		at(0, "92 30 60"),
		at(0, "92 3C 60"),
		at(96, "91 43 40"),
		at(192, "90 4C 20"),
		at(384, "82 30 40"),
		at(384, "82 3C 40"),
		at(384, "81 43 40"),
		at(384, "80 4C 40"),
	}, 384}}}},
	{"format 1", standardFormat1, File{1, 96, []Track{
		{[]Event{at(0, "FF 58 04 02 18 08"), at(0, "FF 51 07 A1 20")}, 384},
		{[]Event{at(0, "C0 05"), at(192, "90 4C 20"), at(384, "90 4C 00")}, 384},
		{[]Event{at(0, "C1 2E"), at(96, "91 43 40"), at(384, "91 43 00")}, 384},
		{[]Event{at(0, "C2 46"), at(0, "92 30 60"), at(0, "92 3C 60"), at(384, "92 30 00"), at(384, "92 3C 00")}, 384},
	}}},
}

func TestTheExamplesOfTheStandardAreRead(t *testing.T) {
	for _, c := range standardFiles {
		t.Run(c.name, func(t *testing.T) {
			got, err := Parse("example.mid", unhex(t, c.bytes))
			require.NoError(t, err)
			require.Equal(t, c.file, got)
		})
	}
}

func TestTheExamplesOfTheStandardAreWrittenByteForByte(t *testing.T) {
	for _, c := range standardFiles {
		t.Run(c.name, func(t *testing.T) {
			got, err := Format(c.file)
			require.NoError(t, err)
			require.Equal(t, unhex(t, c.bytes), got)
		})
	}
}

// 384 ticks are four quarters, two seconds at 120 a minute.
func TestTheExamplesOfTheStandardLastTwoSeconds(t *testing.T) {
	for _, c := range standardFiles {
		m, err := c.file.TempoMap()
		require.NoError(t, err)
		require.Equal(t, Micros(2_000_000), m.TimeAt(c.file.Tracks[0].End))
		require.Equal(t, Position{Bar: 2, Beat: 1}, m.PositionAt(384))
	}
}

// RP-001 on System Exclusive: the message F0 43 12 00 07 F7 as one event, and one
// sent in three packets with 200 (81 48) and 100 (64) ticks between them.
func TestSystemExclusiveOfTheStandard(t *testing.T) {
	body := "00 F0 05 43 12 00 07 F7" +
		"00 F0 03 43 12 00" + "81 48 F7 06 43 12 00 43 12 00" + "64 F7 04 43 12 00 F7" +
		"00 F7 02 F3 01" + // song select 1, which a file holds in no other way
		"00 FF 2F 00"
	got, err := Parse("packets.mid", song(t, body))
	require.NoError(t, err)
	require.Equal(t, []Event{
		at(0, "F0 43 12 00 07 F7"),
		at(0, "F0 43 12 00"),
		at(200, "F7 43 12 00 43 12 00"),
		at(300, "F7 43 12 00 F7"),
		at(300, "F7 F3 01"),
	}, got.Tracks[0].Events)

	var wire []byte
	for _, e := range got.Tracks[0].Events[1:4] {
		wire = append(wire, e.Wire()...)
	}
	require.Equal(t, "F0 43 12 00 43 12 00 43 12 00 43 12 00 F7", midi.Hex(wire))
	require.Equal(t, "F3 01", midi.Hex(got.Tracks[0].Events[4].Wire()))

	back, err := Format(got)
	require.NoError(t, err)
	require.Equal(t, song(t, body), back)
}

// song is a file of format 0 with 96 ticks a quarter around the bytes of a track.
func song(t *testing.T, track string) []byte {
	t.Helper()
	b := unhex(t, track)
	head := unhex(t, "4D 54 68 64 00 00 00 06 00 00 00 01 00 60 4D 54 72 6B 00 00")
	return append(append(head, byte(len(b)>>8), byte(len(b))), b...)
}
