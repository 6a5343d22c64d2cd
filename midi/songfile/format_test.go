package songfile

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

// NRPN 1:8 = 1000 is 63 01, 62 08, 06 07, 26 68 (7·128 + 104): the first message
// with its status, the others without, behind a delta time of 0. The chunk holds
// 4 bytes of the program, 4 + 3·3 of the NRPN, 8 of System Exclusive and 5 of the
// end: 30, which is 1E.
func TestWritingWorkedByHand(t *testing.T) {
	f := File{0, 480, []Track{{[]Event{
		at(480, "F0 7D 05 01 F7"), // handed in out of order
		at(240, "B0 63 01"),
		at(240, "B0 62 08"),
		at(240, "B0 06 07"),
		at(240, "B0 26 68"),
		at(192, "C0 05"),
	}, 960}}}
	got, err := Format(f)
	require.NoError(t, err)
	require.Equal(t, midi.Hex(unhex(t, `
		4D 54 68 64 00 00 00 06 00 00 00 01 01 E0
		4D 54 72 6B 00 00 00 1E
		81 40 C0 05
		30 B0 63 01
		00 62 08
		00 06 07
		00 26 68
		81 70 F0 04 7D 05 01 F7
		83 60 FF 2F 00`)), midi.Hex(got))
	require.Equal(t, at(480, "F0 7D 05 01 F7"), f.Tracks[0].Events[0], "what was handed in stays as it is")
}

func TestStatusIsWrittenAnewBehindMetaEventsAndSystemExclusive(t *testing.T) {
	for _, between := range []string{"FF 01 41", "F0 7D F7", "F7 F8"} {
		f := File{0, 96, []Track{{Events: []Event{at(0, "C0 05"), at(0, between), at(0, "C0 06")}}}}
		got, err := Format(f)
		require.NoError(t, err)
		require.Equal(t, 2, bytes.Count(got, []byte{0x00, 0xC0}), between)
	}
}

func TestTheEndOfATrackIsNeverBeforeItsLastEvent(t *testing.T) {
	b, err := Format(File{0, 96, []Track{{[]Event{at(100, "C0 05")}, 10}}})
	require.NoError(t, err)
	f, err := Parse("end.mid", b)
	require.NoError(t, err)
	require.Equal(t, Tick(100), f.Tracks[0].End)
}

func TestFilesThatCannotBeWritten(t *testing.T) {
	one := []Track{{}}
	with := func(e ...Event) []Track { return []Track{{}, {Events: e}} }
	for _, c := range []struct {
		file File
		want string
	}{
		{File{2, 96, one}, "MIDI file: format 2: 0 and 1 are written"},
		{File{0, 0, one}, "MIDI file: 0 ticks per quarter note: wanted 1 to 32767"},
		{File{0, 32768, one}, "MIDI file: 32768 ticks per quarter note: wanted 1 to 32767"},
		{File{0, 96, nil}, "MIDI file: 0 tracks in format 0: format 0 has one, format 1 up to 65535"},
		{File{0, 96, make([]Track, 2)}, "MIDI file: 2 tracks in format 0: format 0 has one, format 1 up to 65535"},
		{File{1, 96, nil}, "MIDI file: 0 tracks in format 1: format 0 has one, format 1 up to 65535"},
		{File{1, 96, make([]Track, 65536)}, "MIDI file: 65536 tracks in format 1: format 0 has one, format 1 up to 65535"},
		{File{1, 96, with(Event{At: 3})}, "MIDI file: track 2: event at tick 3: no bytes"},
		{File{1, 96, with(at(-1, "C0 05"))}, "MIDI file: track 2: event at tick -1: wanted 0 to 137438953472"},
		{File{1, 96, with(at(3, "F2 00 00"))}, "MIDI file: track 2: event at tick 3: status F2: a file holds channel messages (80 to EF), F0, F7 and FF"},
		{File{1, 96, with(at(3, "FF 2F"))}, "MIDI file: track 2: event at tick 3: end of track: it stands in Track.End, not among the events"},
		{File{1, 96, with(at(3, "FF"))}, "MIDI file: track 2: event at tick 3: meta event: no type from 00 to 7F"},
		{File{1, 96, with(at(3, "FF 51 00 00 00"))}, "MIDI file: track 2: event at tick 3: tempo of 0 µs a quarter note: wanted 1 to 16777215"},
		{File{1, 96, with(at(1<<28, "C0 05"))}, "MIDI file: track 2: 268435456 ticks without an event: a file can state 268435455: place a text in between"},
		{File{1, 96, []Track{{End: 1 << 28}}}, "MIDI file: track 1: 268435456 ticks without an event: a file can state 268435455: place a text in between"},
		{File{1, 96, []Track{{End: MaxTick + 1}}}, "MIDI file: track 1: end at tick 137438953473: wanted 137438953472 at the most"},
	} {
		got, err := Format(c.file)
		require.EqualError(t, err, c.want)
		require.Nil(t, got)
	}
}

// 268,435,455 is FF FF FF 7F, the largest that RP-001 allows.
func TestTheLongestRest(t *testing.T) {
	got, err := Format(File{0, 96, []Track{{[]Event{at(maxQuantity, "C0 05")}, 2 * maxQuantity}}})
	require.NoError(t, err)
	require.Equal(t, "FF FF FF 7F C0 05 FF FF FF 7F FF 2F 00", midi.Hex(got[22:]))
}
