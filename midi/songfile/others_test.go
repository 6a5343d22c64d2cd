package songfile

import (
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

// What other programs read out of the files that are written here: midicsv and
// mido of Python.

const python = "/usr/bin/python3"

func needMido(t *testing.T) {
	t.Helper()
	if err := exec.Command(python, "-c", "import mido").Run(); err != nil {
		t.Skip("no mido here to ask:", err)
	}
}

func run(t *testing.T, program string, args ...string) string {
	t.Helper()
	out, err := exec.Command(program, args...).CombinedOutput()
	require.NoError(t, err, string(out))
	return string(out)
}

func text(t *testing.T, at Tick, kind MetaType, words string) Event {
	t.Helper()
	e, err := Text(at, kind, words)
	require.NoError(t, err)
	return e
}

// setList is what an export looks like: the tempo map with markers in the first
// track, and a track that tells a device its programs in good time.
func setList(t *testing.T) File {
	m := mapOf(t, 480, []TempoChange{{0, 500_000}, {3840, 428_571}}, []MeterChange{{0, Meter{4, 4}}, {3840, Meter{6, 8}}})
	return File{1, 480, []Track{
		{append(m.Events(), text(t, 0, MetaTrackName, "Low Tide"), text(t, 3840, MetaMarker, "Bridge")), 7680},
		{[]Event{
			text(t, 0, MetaTrackName, "Echo"),
			text(t, 3800, MetaText, `ready after 40 ticks, "in time"`),
			at(3800, "C0 05"),
			at(3800, "B0 63 01"), at(3800, "B0 62 08"), at(3800, "B0 06 07"), at(3800, "B0 26 68"),
			at(3810, "F0 7D 05 01 F7"),
		}, 0},
	}}
}

// Worked by hand from midicsv(5): track, tick, name, values; a quarter has 480
// ticks, the end of a track is its last event if nothing else is said.
const setListInCSV = `0, 0, Header, 1, 2, 480
1, 0, Start_track
1, 0, Time_signature, 4, 2, 24, 8
1, 0, Tempo, 500000
1, 0, Title_t, "Low Tide"
1, 3840, Time_signature, 6, 3, 36, 8
1, 3840, Tempo, 428571
1, 3840, Marker_t, "Bridge"
1, 7680, End_track
2, 0, Start_track
2, 0, Title_t, "Echo"
2, 3800, Text_t, "ready after 40 ticks, ""in time"""
2, 3800, Program_c, 0, 5
2, 3800, Control_c, 0, 99, 1
2, 3800, Control_c, 0, 98, 8
2, 3800, Control_c, 0, 6, 7
2, 3800, Control_c, 0, 38, 104
2, 3810, System_exclusive, 4, 125, 5, 1, 247
2, 3810, End_track
0, 0, End_of_file
`

func write(t *testing.T, file string, f File) {
	t.Helper()
	b, err := Format(f)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(file, b, 0o600))
}

func TestMidicsvReadsWhatIsWritten(t *testing.T) {
	if _, err := exec.LookPath("midicsv"); err != nil {
		t.Skip("no midicsv here to ask:", err)
	}
	file := filepath.Join(t.TempDir(), "set.mid")
	write(t, file, setList(t))
	require.Equal(t, setListInCSV, run(t, "midicsv", file))
}

func TestWhatCsvmidiWritesIsRead(t *testing.T) {
	if _, err := exec.LookPath("csvmidi"); err != nil {
		t.Skip("no csvmidi here to ask:", err)
	}
	dir := t.TempDir()
	ours, table, theirs := filepath.Join(dir, "ours.mid"), filepath.Join(dir, "set.csv"), filepath.Join(dir, "theirs.mid")
	write(t, ours, setList(t))
	require.NoError(t, os.WriteFile(table, []byte(setListInCSV), 0o600))
	run(t, "csvmidi", table, theirs)
	require.Equal(t, read(t, ours), read(t, theirs))
}

func read(t *testing.T, file string) File {
	t.Helper()
	b, err := os.ReadFile(file)
	require.NoError(t, err)
	f, err := Parse(file, b)
	require.NoError(t, err)
	return f
}

// eventsByMido prints a line for each event of each track: track, tick, bytes
// without the length of a meta event.
const eventsByMido = `
import sys, mido
for i, track in enumerate(mido.MidiFile(sys.argv[1]).tracks):
    tick = 0
    for m in track:
        tick += m.time
        if m.type == 'end_of_track':
            print(i, tick, 'end')
            continue
        if m.is_meta:
            b = m.bytes()
            skip = 2
            while b[skip] >= 128: skip += 1
            b = b[:2] + b[skip+1:]
        else:
            b = m.bytes()
        print(i, tick, ' '.join('%02X' % x for x in b))
`

// told is a file in the form in which eventsByMido prints it.
func told(f File) string {
	var s strings.Builder
	for i, track := range f.Tracks {
		last := Tick(0)
		for _, e := range track.Events {
			fmt.Fprintf(&s, "%d %d %s\n", i, e.At, midi.Hex(e.Bytes))
			last = e.At
		}
		fmt.Fprintf(&s, "%d %d end\n", i, max(last, track.End))
	}
	return s.String()
}

func TestMidoReadsWhatIsWritten(t *testing.T) {
	needMido(t)
	file := filepath.Join(t.TempDir(), "random.mid")
	r := rand.New(rand.NewPCG(7, 11))
	for range 10 {
		f := randomFile(r)
		write(t, file, f)
		require.Equal(t, told(f), run(t, python, "-c", eventsByMido, file))
	}
}

// Read by mido and written anew by it, in its own way with running status.
func TestWhatMidoWritesIsRead(t *testing.T) {
	needMido(t)
	dir := t.TempDir()
	ours, theirs := filepath.Join(dir, "ours.mid"), filepath.Join(dir, "theirs.mid")
	r := rand.New(rand.NewPCG(23, 29))
	for range 5 {
		want := randomFile(r)
		write(t, ours, want)
		run(t, python, "-c", "import sys, mido; mido.MidiFile(sys.argv[1]).save(sys.argv[2])", ours, theirs)
		require.Equal(t, want, read(t, theirs))
	}
}

// randomFile has events of every kind in one to four tracks.
func randomFile(r *rand.Rand) File {
	f := File{Format: 1, Division: 1 + r.IntN(MaxDivision), Tracks: make([]Track, 1+r.IntN(4))}
	for i := range f.Tracks {
		now := Tick(0)
		for range 200 {
			now += Tick(r.IntN(1<<20) >> r.IntN(21))
			f.Tracks[i].Events = append(f.Tracks[i].Events, Event{now, randomBytes(r)})
		}
		f.Tracks[i].End = now + Tick(r.IntN(1000))
	}
	return f
}

func randomBytes(r *rand.Rand) []byte {
	data := func(n int, first ...byte) []byte {
		for range n {
			first = append(first, byte(r.IntN(128)))
		}
		return first
	}
	switch r.IntN(6) {
	case 0:
		return append(data(1+r.IntN(300), midi.StartOfSysEx), midi.EndOfSysEx)
	case 1:
		return Tempo(1 + r.IntN(int(MaxTempo))).event(0).Bytes
	case 2:
		return Meter{1 + r.IntN(maxBeats), 1 << r.IntN(maxUnitBits+1)}.event(0).Bytes
	case 3:
		return data(r.IntN(200), isMeta, byte(1+r.IntN(7)))
	}
	status := byte(0x80 + r.IntN(0x70))
	return data(dataBytes(status), status)
}

// timesByMido prints the time in seconds of each note, by the tempi of all tracks.
const timesByMido = `
import sys, mido
for name in sys.argv[1:]:
    now = 0
    for m in mido.MidiFile(name):
        now += m.time
        if m.type == 'note_on': print(repr(now))
`

// The two agree if ours is the nearest microsecond to theirs; a few hours in
// floating point seconds, added up 100 times, are good for a thousandth of one.
func TestMidoAgreesOnRandomTempoMapsToTheMicrosecond(t *testing.T) {
	needMido(t)
	r := rand.New(rand.NewPCG(17, 19))
	dir := t.TempDir()
	var files []string
	var want []Micros
	for n := range 40 {
		f := randomMap(r)
		// Reading goes through the bytes, as theirs does.
		b, err := Format(f)
		require.NoError(t, err)
		f, err = Parse("random.mid", b)
		require.NoError(t, err)
		m, err := f.TempoMap()
		require.NoError(t, err)
		for _, e := range f.InOrder() {
			if e.Bytes[0] == 0x90 {
				want = append(want, m.TimeAt(e.At))
			}
		}
		files = append(files, filepath.Join(dir, strconv.Itoa(n)+".mid"))
		require.NoError(t, os.WriteFile(files[n], b, 0o600))
	}
	theirs := strings.Fields(run(t, python, append([]string{"-c", timesByMido}, files...)...))
	require.Len(t, theirs, len(want))
	require.NotEmpty(t, want)
	for i, text := range theirs {
		seconds, err := strconv.ParseFloat(text, 64)
		require.NoError(t, err)
		require.InDelta(t, 1e6*seconds, float64(want[i]), 0.501, "note %d", i)
	}
}

// randomMap has tempi and notes anywhere in its tracks, several at one tick too.
func randomMap(r *rand.Rand) File {
	f := File{Format: 1, Division: 24 + r.IntN(1000), Tracks: make([]Track, 1+r.IntN(4))}
	for i := range f.Tracks {
		for range 12 {
			place := Tick(r.IntN(100 * f.Division))
			tempo := Tempo(60_000 + r.IntN(3_000_000))
			f.Tracks[i].Events = append(f.Tracks[i].Events,
				tempo.event(place), Event{Tick(r.IntN(100 * f.Division)), []byte{0x90, 60, 64}}, Event{place, []byte{0x90, 62, 64}})
		}
	}
	return f
}
