package songfile

import (
	"encoding/binary"
	"errors"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"
)

const (
	oneTrack = "4D 54 68 64 00 00 00 06 00 00 00 01 00 60 " // format 0, 96 ticks a quarter
	emptyEnd = "4D 54 72 6B 00 00 00 04 00 FF 2F 00 "       // a track of nothing but its end
)

func TestFilesThatAreRight(t *testing.T) {
	for _, c := range []struct {
		name  string
		bytes string
		want  []Event
		end   Tick
	}{
		{"an empty track", oneTrack + emptyEnd, nil, 0},
		{"a header that is longer than the standard's, which asks to honour it",
			"4D 54 68 64 00 00 00 08 00 00 00 01 00 60 AA BB " + emptyEnd, nil, 0},
		{"an unknown chunk before the track", oneTrack + "58 58 58 58 00 00 00 03 01 02 03 " + emptyEnd, nil, 0},
		{"an unknown chunk behind the track", oneTrack + emptyEnd + "58 58 58 58 00 00 00 03 01 02 03", nil, 0},
		{"an unknown chunk behind the track that is cut", oneTrack + emptyEnd + "58 58 58 58 00 00 00 03 01", nil, 0},
		{"stray bytes behind the track", oneTrack + emptyEnd + "00 00 1A", nil, 0},
		{"running status over three messages and two delta times",
			oneTrack + "4D 54 72 6B 00 00 00 0E 00 90 3C 27 60 40 2B 00 43 25 00 FF 2F 00",
			[]Event{at(0, "90 3C 27"), at(96, "90 40 2B"), at(96, "90 43 25")}, 96},
		{"running status of messages with one data byte",
			oneTrack + "4D 54 72 6B 00 00 00 0B 00 C0 05 01 06 02 07 00 FF 2F 00",
			[]Event{at(0, "C0 05"), at(1, "C0 06"), at(3, "C0 07")}, 3},
		{"rest behind the last event", oneTrack + "4D 54 72 6B 00 00 00 08 00 C0 05 83 60 FF 2F 00",
			[]Event{at(0, "C0 05")}, 480},
		{"texts, an unknown meta event, one of the sequencer's own",
			oneTrack + "4D 54 72 6B 00 00 00 1A 00 FF 03 02 41 42 00 FF 06 01 43 00 FF 60 02 FF 80 00 FF 7F 01 00 00 FF 2F 00",
			[]Event{at(0, "FF 03 41 42"), at(0, "FF 06 43"), at(0, "FF 60 FF 80"), at(0, "FF 7F 00")}, 0},
		{"delta times and lengths with leading zeros",
			oneTrack + "4D 54 72 6B 00 00 00 0C 80 05 FF 01 80 01 41 80 00 FF 2F 00",
			[]Event{at(5, "FF 01 41")}, 5},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Parse("right.mid", unhex(t, c.bytes))
			require.NoError(t, err)
			require.Equal(t, File{0, 96, []Track{{c.want, c.end}}}, got)
		})
	}
}

func TestFilesThatAreWrong(t *testing.T) {
	const track = "4D 54 72 6B 00 00 00 "
	for _, c := range []struct {
		name  string
		bytes string
		want  string
	}{
		{"nothing", "", "x.mid: an empty file"},
		{"another kind of file", "52 49 46 46 24 00 00 00 57 41 56 45 66 6D", `x.mid: begins with "RIFF": a Standard MIDI File begins with MThd`},
		{"a name and no more", "4D 54 68 64", "x.mid: 4 bytes: a header alone takes 14"},
		{"a short header", "4D 54 68 64 00 00 00 05 00 00 00 01 00", "x.mid: at byte 4: a header of 5 bytes: wanted 6 or more"},
		{"a cut header", "4D 54 68 64 00 00 00 06 00 00 00", "x.mid: at byte 4: a header of 6 bytes where 3 are left: the file is cut or its length lies"},
		{"a header of 4 GB", "4D 54 68 64 FF FF FF FF 00 00 00 01 00 60", "x.mid: at byte 4: a header of 4294967295 bytes where 6 are left: the file is cut or its length lies"},
		{"no ticks", "4D 54 68 64 00 00 00 06 00 00 00 01 00 00", "x.mid: at byte 12: 0 ticks per quarter note: wanted 1 to 32767"},
		{"two tracks in format 0", "4D 54 68 64 00 00 00 06 00 00 00 02 00 60", "x.mid: at byte 10: 2 tracks in a file of format 0: format 0 has one, format 1 one or more"},
		{"no tracks", "4D 54 68 64 00 00 00 06 00 01 00 00 00 60", "x.mid: at byte 10: 0 tracks in a file of format 1: format 0 has one, format 1 one or more"},
		{"the track is not there", oneTrack, "x.mid: at byte 14: the file ends after 0 of 1 tracks"},
		{"the second track is not there", "4D 54 68 64 00 00 00 06 00 01 00 02 00 60 " + emptyEnd, "x.mid: at byte 26: the file ends after 1 of 2 tracks"},
		{"a track too many", oneTrack + emptyEnd + emptyEnd, "x.mid: at byte 26: one more track than the 1 that the header states"},
		{"a track of 2 GB", oneTrack + "4D 54 72 6B 7F FF FF FF 00 FF 2F 00", `x.mid: at byte 18: chunk "MTrk" of 2147483647 bytes where 4 are left: the file is cut or its length lies`},
		{"an unknown chunk of 2 GB before the track", oneTrack + "58 58 58 58 80 00 00 00 " + emptyEnd, `x.mid: at byte 18: chunk "XXXX" of 2147483648 bytes where 12 are left: the file is cut or its length lies`},
		{"a track without an end", oneTrack + track + "03 00 C0 05", "x.mid: at byte 25: track 1: no end of track (FF 2F 00): the file is cut or its length lies"},
		{"a track of no bytes", oneTrack + track + "00", "x.mid: at byte 22: track 1: no end of track (FF 2F 00): the file is cut or its length lies"},
		{"bytes behind the end", oneTrack + track + "06 00 FF 2F 00 00 00", "x.mid: at byte 26: track 1: 2 bytes behind the end of track: the length of the chunk lies"},
		{"a length too small by one", oneTrack + track + "03 00 FF 2F 00", "x.mid: at byte 25: track 1: ends inside a length: the file is cut or its length lies"},
		{"nothing behind a delta time", oneTrack + track + "01 00", "x.mid: at byte 23: track 1: ends behind a delta time: the file is cut or its length lies"},
		{"a cut delta time", oneTrack + track + "01 81", "x.mid: at byte 22: track 1: ends inside a delta time: the file is cut or its length lies"},
		{"a delta time of five bytes", oneTrack + track + "09 81 80 80 80 00 C0 05 00 FF", "x.mid: at byte 22: track 1: delta time: a number of more than four bytes"},
		{"a cut message", oneTrack + track + "03 00 90 3C", "x.mid: at byte 23: track 1: ends inside message 90: the file is cut or its length lies"},
		{"data without a status", oneTrack + track + "07 00 3C 40 00 FF 2F 00", "x.mid: at byte 23: track 1: data byte 3C without a status: System Exclusive and meta events end running status"},
		{"running status behind a meta event", oneTrack + track + "0E 00 C0 05 00 FF 01 01 41 00 06 00 FF 2F 00", "x.mid: at byte 31: track 1: data byte 06 without a status: System Exclusive and meta events end running status"},
		{"running status behind System Exclusive", oneTrack + track + "0E 00 C0 05 00 F0 02 7D F7 00 06 00 FF 2F 00", "x.mid: at byte 31: track 1: data byte 06 without a status: System Exclusive and meta events end running status"},
		{"a status as data", oneTrack + track + "08 00 90 3C 90 00 FF 2F 00", "x.mid: at byte 23: track 1: message: data byte 2 is 90: wanted 00 to 7F"},
		{"a clock", oneTrack + track + "06 00 F8 00 FF 2F 00", "x.mid: at byte 23: track 1: status F8: a file holds channel messages (80 to EF), F0, F7 and FF"},
		{"a song position", oneTrack + track + "08 00 F2 00 00 00 FF 2F 00", "x.mid: at byte 23: track 1: status F2: a file holds channel messages (80 to EF), F0, F7 and FF"},
		{"a status in System Exclusive", oneTrack + track + "09 00 F0 02 90 F7 00 FF 2F 00", "x.mid: at byte 23: track 1: System Exclusive: data byte 1 is 90: wanted 00 to 7F"},
		{"System Exclusive of 256 MB", oneTrack + track + "0A 00 F0 FF FF FF 7F 7D 00 FF 2F 00", "x.mid: at byte 24: track 1: System Exclusive of 268435455 bytes where 4 are left in the track: the file is cut or a length lies"},
		{"a text of 256 MB", oneTrack + track + "0A 00 FF 01 FF FF FF 7F 00 FF 2F", "x.mid: at byte 25: track 1: a meta event of 268435455 bytes where 3 are left in the track: the file is cut or a length lies"},
		{"a meta event without a type", oneTrack + track + "02 00 FF", "x.mid: at byte 23: track 1: ends inside a meta event: the file is cut or its length lies"},
		{"a meta event of type 80", oneTrack + track + "08 00 FF 80 00 00 FF 2F 00", "x.mid: at byte 23: track 1: meta event: no type from 00 to 7F"},
		{"an end of track with a byte", oneTrack + track + "05 00 FF 2F 01 00", "x.mid: at byte 23: track 1: end of track with 1 bytes: wanted none"},
		{"a tempo of two bytes", oneTrack + track + "0A 00 FF 51 02 07 A1 00 FF 2F 00", "x.mid: at byte 23: track 1: tempo: wanted 3 bytes, got 2"},
		{"a tempo of 0", oneTrack + track + "0B 00 FF 51 03 00 00 00 00 FF 2F 00", "x.mid: at byte 23: track 1: tempo of 0 µs a quarter note: wanted 1 to 16777215"},
		{"a time signature of three bytes", oneTrack + track + "0B 00 FF 58 03 04 02 18 00 FF 2F 00", "x.mid: at byte 23: track 1: time signature: wanted 4 bytes, got 3"},
		{"a bar of no beats", oneTrack + track + "0C 00 FF 58 04 00 02 18 08 00 FF 2F 00", "x.mid: at byte 23: track 1: time signature 0/4: wanted 1 to 255 beats of 1/1, 1/2, 1/4 … 1/128"},
		{"beats that are 1/2^200 note", oneTrack + track + "0C 00 FF 58 04 04 C8 18 08 00 FF 2F 00", "x.mid: at byte 23: track 1: time signature: the beat is 1/2^200 note: wanted 1/128 at the finest"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Parse("x.mid", unhex(t, c.bytes))
			require.EqualError(t, err, c.want)
			var wrong *FormatError
			require.ErrorAs(t, err, &wrong)
			require.Zero(t, got)
		})
	}
}

// RP-001: bit 15 of the division says SMPTE; 30 frames of 80 ticks are E2 50, and
// 25 of 40, a tick a millisecond, E7 28 (−25 is E7, 40 is 28).
func TestFilesThatAreRightAndNotRead(t *testing.T) {
	for _, c := range []struct {
		name  string
		bytes string
		want  string
	}{
		{"format 2", "4D 54 68 64 00 00 00 06 00 02 00 01 00 60 " + emptyEnd, "x.mid: at byte 8: format 2: its tracks are songs of their own with a tempo each: save them as files of format 1"},
		{"format 3", "4D 54 68 64 00 00 00 06 00 03 00 01 00 60 " + emptyEnd, "x.mid: at byte 8: format 3: formats 0 and 1 are read"},
		{"30 frames a second", "4D 54 68 64 00 00 00 06 00 00 00 01 E2 50 " + emptyEnd, "x.mid: at byte 12: time in SMPTE frames (30 a second, 80 ticks each): it has no tempo and no bars: save it with ticks per quarter note"},
		{"milliseconds", "4D 54 68 64 00 00 00 06 00 01 00 01 E7 28 " + emptyEnd, "x.mid: at byte 12: time in SMPTE frames (25 a second, 40 ticks each): it has no tempo and no bars: save it with ticks per quarter note"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Parse("x.mid", unhex(t, c.bytes))
			require.EqualError(t, err, c.want)
			var unsupported *UnsupportedError
			require.ErrorAs(t, err, &unsupported)
		})
	}
}

func TestPlacesBeyondTheLastAreRefused(t *testing.T) {
	var track []byte
	for range 513 { // 512 times 2²⁸ − 1 ticks are 512 short of 2³⁷
		track = append(track, 0xFF, 0xFF, 0xFF, 0x7F, 0xC0, 0x05)
	}
	b := append(unhex(t, oneTrack), 'M', 'T', 'r', 'k', 0, 0, byte(len(track)>>8), byte(len(track)))
	_, err := Parse("long.mid", append(b, track...))
	var unsupported *UnsupportedError
	require.ErrorAs(t, err, &unsupported)
	require.ErrorContains(t, err, "track 1: tick 137707388415: places up to 137438953472 are read")
}

func TestAFileCutAnywhereIsWrong(t *testing.T) {
	whole := unhex(t, standardFormat1)
	for n := range whole {
		_, err := Parse("cut.mid", whole[:n])
		var wrong *FormatError
		require.ErrorAs(t, err, &wrong, "cut after %d bytes", n)
		require.LessOrEqual(t, wrong.Offset, n)
	}
}

// Whatever one byte becomes, the file is read or refused, and what is read can be
// written and is read the same again.
func TestAnyByteMayBecomeAnyOther(t *testing.T) {
	whole := unhex(t, standardFormat1)
	read := 0
	for i := range whole {
		for v := range 256 {
			b := append([]byte(nil), whole...)
			b[i] = byte(v)
			if holds(t, b) {
				read++
			}
		}
	}
	require.Greater(t, read, len(whole), "each byte left as it was")
	require.Less(t, read, 200*len(whole))
}

// holds checks what must be true of any bytes, and says whether they are a file.
func holds(t *testing.T, b []byte) bool {
	t.Helper()
	f, err := Parse("any.mid", b)
	var wrong *FormatError
	var unsupported *UnsupportedError
	switch {
	case errors.As(err, &wrong):
		require.True(t, wrong.Offset >= 0 && wrong.Offset <= len(b), wrong.Offset)
		return false
	case errors.As(err, &unsupported):
		return false
	}
	require.NoError(t, err)
	for _, track := range f.Tracks {
		for i, e := range track.Events {
			require.NoError(t, e.check())
			require.True(t, i == 0 || e.At >= track.Events[i-1].At)
			require.LessOrEqual(t, e.At, track.End)
		}
	}
	back, err := Format(f)
	require.NoError(t, err)
	again, err := Parse("back.mid", back)
	require.NoError(t, err)
	require.Equal(t, f, again)
	m, err := f.TempoMap()
	require.NoError(t, err)
	end := f.Tracks[0].End
	require.LessOrEqual(t, m.TimeAt(m.TickAt(m.TimeAt(end))), m.TimeAt(end))
	require.LessOrEqual(t, m.BarAt(m.PositionAt(end).Bar), end)
	return true
}

// Lengths that claim gigabytes cost no more than the bytes that are there.
func TestClaimsCostNothing(t *testing.T) {
	for _, c := range []struct{ name, bytes string }{
		{"a header of 4 GB", "4D 54 68 64 FF FF FF FF 00 00 00 01 00 60"},
		{"65535 tracks", "4D 54 68 64 00 00 00 06 00 01 FF FF 00 60 " + emptyEnd},
		{"a track of 4 GB", oneTrack + "4D 54 72 6B FF FF FF FF 00 FF 2F 00"},
		{"a text of 256 MB", oneTrack + "4D 54 72 6B 00 00 00 0A 00 FF 01 FF FF FF 7F 00 FF 2F"},
		{"System Exclusive of 256 MB", oneTrack + "4D 54 72 6B 00 00 00 0A 00 F0 FF FF FF 7F 00 FF 2F 00"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := unhex(t, c.bytes)
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			_, err := Parse("claim.mid", b)
			runtime.ReadMemStats(&after)
			require.Error(t, err)
			require.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(64<<10), "room for the error and for what other goroutines do meanwhile")
		})
	}
}

func FuzzParse(f *testing.F) {
	for _, c := range standardFiles {
		b, err := Format(c.file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	head := "MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60MTrk\x00\x00\x00"
	f.Add([]byte(head + "\x11\x00\xF0\x03\x43\x12\x00\x81\x48\xF7\x03\x43\x12\xF7\x00\xFF\x2F\x00"))
	f.Add([]byte(head + "\x0B\x00\xFF\x51\x03\x00\x00\x01\x00\xFF\x2F\x00"))
	f.Add([]byte(head + "\x0C\x00\xFF\x58\x04\x07\x03\x18\x08\x00\xFF\x2F\x00"))
	f.Add(binary.BigEndian.AppendUint32([]byte("MThd\x00\x00\x00\x06\x00\x01\xFF\xFF\x00\x60MTrk"), 1<<31))
	f.Fuzz(func(t *testing.T, b []byte) { holds(t, b) })
}
