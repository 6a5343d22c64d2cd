package cli

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi/songfile"
	"echowright/preset"
)

// midiFile writes a file with these tempi and time signatures at 96 ticks a quarter,
// so that a bar of 4/4 has 384.
func midiFile(t *testing.T, path string, tempi []songfile.TempoChange, meters ...songfile.MeterChange) {
	t.Helper()
	m, err := songfile.NewTempoMap(96, tempi, meters)
	require.NoError(t, err)
	b, err := songfile.Format(songfile.File{Format: 1, Division: 96, Tracks: []songfile.Track{{Events: m.Events(), End: 20 * 384}}})
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, b, 0o600))
}

func tempiOf(t *testing.T, tempi ...songfile.TempoChange) setSong {
	t.Helper()
	path := filepath.Join(t.TempDir(), "song.mid")
	midiFile(t, path, tempi)
	var s setSong
	require.NoError(t, s.readTempi(path))
	return s
}

// At 120 BPM a beat has 500 ms, and 375 ms is a dotted eighth; 9.375 ms of it can be
// noticed (2.5 %). Where a beat has 490 ms it should come after 375 · 0.98, so that
// it is 7.5 ms late; 480 ms: 15 ms; 428.571 ms: 375 · 0.142858 = 53.57 ms, which is
// 5.7 times 9.375; 600 ms: 75 ms early.
func TestATempoThatMoves(t *testing.T) {
	bar := func(n int, tempo songfile.Tempo) songfile.TempoChange {
		return songfile.TempoChange{At: songfile.Tick(384 * (n - 1)), Tempo: tempo}
	}
	for _, c := range []struct {
		name  string
		tempi []songfile.TempoChange
		want  string
	}{
		{"one that stays", []songfile.TempoChange{bar(1, 500_000)}, ""},
		{"a little faster", []songfile.TempoChange{bar(1, 500_000), bar(3, 490_000)}, ""},
		{"ever faster, and back", []songfile.TempoChange{bar(1, 500_000), bar(3, 490_000), bar(5, 480_000), bar(9, 428_571), bar(17, 510_000)},
			"its tempo moves: the slot is right for its first one, 120 BPM; from bar 5 on (125 BPM) the echo of head 6 at 375.0 ms comes 15.0 ms too late, " +
				"in bar 9 (140 BPM) 53.6 ms too late, which is 5.7 times what can be noticed"},
		{"slower at once", []songfile.TempoChange{bar(1, 500_000), bar(2, 600_000), bar(4, 500_000)},
			"its tempo moves: the slot is right for its first one, 120 BPM; from bar 2 on (100 BPM) the echo of head 6 at 375.0 ms comes 75.0 ms too early, " +
				"which is 8.0 times what can be noticed"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := tempiOf(t, c.tempi...)
			require.Equal(t, preset.BPM(120), s.tempo, "60,000,000 / 500,000")
			require.Equal(t, c.want, s.tempiWarning(6, 375))
		})
	}
	require.Empty(t, setSong{tempo: 120}.tempiWarning(6, 375), "without a map there is one tempo")
}

// RP-001 states a tempo as 24 bits of microseconds; 7,000,000 is 8.57 BPM.
func TestTempoMapsThatAreOfNoUse(t *testing.T) {
	folder := t.TempDir()
	for _, c := range []struct{ name, bytes, want string }{
		{"nothing in it", "", "an empty file"},
		{"something else", "format = \"echowright-songs/1\"", `begins with "form": a Standard MIDI File begins with MThd`},
		{"time in frames", "MThd\x00\x00\x00\x06\x00\x00\x00\x01\xE7\x28MTrk\x00\x00\x00\x04\x00\xFF\x2F\x00",
			"time in SMPTE frames (25 a second, 40 ticks each): it has no tempo and no bars: save it with ticks per quarter note"},
		{"cut in the middle", "MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60MTrk\x00\x00\x00\x04\x00\xFF", "the file is cut or its length lies"},
		{"two gigabytes, it says", "MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60MTrk\x7F\xFF\xFF\xFF\x00\xFF\x2F\x00", "the file is cut or its length lies"},
		{"slower than anything", "MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60MTrk\x00\x00\x00\x0B\x00\xFF\x51\x03\x6A\xCF\xC0\x00\xFF\x2F\x00",
			"begins at tempo 8.57"},
	} {
		path := filepath.Join(folder, "map.mid")
		require.NoError(t, os.WriteFile(path, []byte(c.bytes), 0o600))
		var s setSong
		err := s.readTempi(path)
		require.ErrorContains(t, err, c.want, c.name)
		require.ErrorContains(t, err, "tempo map "+path, c.name)
	}
	var s setSong
	require.ErrorContains(t, s.readTempi(folder), "file "+folder)
	require.EqualError(t, s.readTempi(os.DevNull), "file "+os.DevNull+": is a pipe or a device: save the tempo map to a file")
}

// The head that falls on the note is watched, though another is heard later.
func TestWhichHeadATempoIsWatchedAt(t *testing.T) {
	folder := t.TempDir()
	midiFile(t, filepath.Join(folder, "flood.mid"), []songfile.TempoChange{{At: 0, Tempo: 500_000}, {At: 768, Tempo: 450_000}})
	require.NoError(t, os.WriteFile(filepath.Join(folder, "fen.toml"), []byte(someUnit), 0o600))
	sheet := filepath.Join(folder, "set.toml")
	for _, c := range []struct {
		lines, head string
		at          preset.Millis
	}{
		{"note = \"1/8\"\nhead = 1\n", "head 1 at 250.0 ms comes 25.0 ms too late", 250},
		{"note = \"1/8\"\n", "head 3 at 250.0 ms comes 25.0 ms too late", 250},
		{"mode = \"nearest\"\n", "head 3 at 400.0 ms comes 40.0 ms too late", 400},
	} {
		text := "format = \"echowright-songs/1\"\nname = \"set\"\n[[song]]\ntitle = \"Flood\"\nunit = \"./fen.toml\"\ntempo_map = \"flood.mid\"\nslot = 4\n" + c.lines
		require.NoError(t, os.WriteFile(sheet, []byte(text), 0o600))
		got := world(t).run(t, "songs", "plan", sheet, "--device", "five-line")
		require.Equal(t, exitDone, got.code, got.talk)
		require.Contains(t, got.talk, "Flood: its tempo moves: the slot is right for its first one, 120 BPM; from bar 3 on (133.333 BPM) the echo of "+c.head)
		require.Regexp(t, `(?m)^Flood +120 +`, got.out)
	}
}
