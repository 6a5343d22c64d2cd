package library

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/stricttoml"
)

// tidewrack is a sheet with every key in it.
func tidewrack() SongSheet {
	return SongSheet{
		Name: "tidewrack", Notes: "two sets,\na break between",
		Songs: []Song{
			{Title: "Eelgrass \"Ebb\"", Tempo: 132, Unit: "saltmarsh-drum-1", Mode: ModeSpeed, Note: "1/8.", Slot: 5},
			{Title: "Glasswort", Tempo: 96.5, Unit: "units/fen.toml", Heads: []int{2, 6}, Mode: ModeSpeed, Note: "1/8t", Head: 2, Slot: 0, EchoLevel: -2.5, Notes: "softer\nthan it was"},
			{Title: "Samphire", TempoMap: "samphire.mid", Unit: "fen-disc", Mode: ModeGrid, Grid: []string{"1/16", "1/8t", "1/8"}, Slot: 63},
			{Title: "Brackish", Tempo: 140, Unit: "fen-disc@3", Mode: ModeGrid, Slot: 7},
			{Title: "Sluice", Tempo: 71.25, Unit: "fen-disc", Mode: ModeNearest, Slot: 8, EchoLevel: 3},
		},
	}
}

const tidewrackText = `format = "echowright-songs/1"
name = "tidewrack"
notes = "two sets,\na break between"

[[song]]
title = "Eelgrass \"Ebb\""
tempo_bpm = 132
unit = "saltmarsh-drum-1"
note = "1/8."
slot = 5

[[song]]
title = "Glasswort"
tempo_bpm = 96.5
unit = "units/fen.toml"
heads = [2, 6]
note = "1/8t"
head = 2
slot = 0
echo_level_db = -2.5
notes = "softer\nthan it was"

[[song]]
title = "Samphire"
tempo_map = "samphire.mid"
unit = "fen-disc"
mode = "grid"
grid = ["1/16", "1/8t", "1/8"]
slot = 63

[[song]]
title = "Brackish"
tempo_bpm = 140
unit = "fen-disc@3"
mode = "grid"
slot = 7

[[song]]
title = "Sluice"
tempo_bpm = 71.25
unit = "fen-disc"
mode = "nearest"
slot = 8
echo_level_db = 3
`

func TestSongSheetsComeBackTheSame(t *testing.T) {
	text, err := FormatSongs(tidewrack())
	require.NoError(t, err)
	require.Equal(t, tidewrackText, string(text))
	again, err := ParseSongs("s.toml", text)
	require.NoError(t, err)
	require.Equal(t, tidewrack(), again)
}

// sheetOf is a sheet of one song, in slot 1, with these lines besides its title.
func sheetOf(lines ...string) string {
	return "format = 'echowright-songs/1'\nname = 'one'\n[[song]]\ntitle = 'Sluice'\n" + strings.Join(append(lines, "slot = 1"), "\n") + "\n"
}

func TestWhatIsWrongWithASongSheet(t *testing.T) {
	const unit, tempo, note = "unit = 'fen'", "tempo_bpm = 100", "note = '1/4'"
	song := func(title string, slot int) string {
		return fmt.Sprintf("[[song]]\ntitle = '%s'\nunit = 'fen'\ntempo_bpm = 100\nnote = '1/4'\nslot = %d\n", title, slot)
	}
	const head = "format = 'echowright-songs/1'\nname = 'set'\n"
	for _, c := range []struct{ name, text, want string }{
		{"a tempo of 0", sheetOf(unit, "tempo_bpm = 0", note), `s.toml:6: song "Sluice": tempo 0: must lie from 10 to 1000 beats a minute`},
		{"a negative tempo", sheetOf(unit, "tempo_bpm = -120", note), `s.toml:6: song "Sluice": tempo -120: must lie from 10`},
		{"a tempo of 1e9", sheetOf(unit, "tempo_bpm = 1e9", note), `s.toml:6: song "Sluice": tempo 1e+09: must lie`},
		{"a tempo that is no number", sheetOf(unit, "tempo_bpm = nan", note), `s.toml:6: tempo_bpm in [[song]] is nan; write a finite number`},
		{"an infinite tempo", sheetOf(unit, "tempo_bpm = inf", note), `s.toml:6: tempo_bpm in [[song]] is +inf`},
		{"a tempo in quotes", sheetOf(unit, "tempo_bpm = '120'", note), `s.toml:6: tempo_bpm in [[song]] is the text "120"; write a number`},
		{"no tempo", sheetOf(unit, note), `s.toml:3: song "Sluice": its tempo is missing: give tempo_bpm, or tempo_map`},
		{"two tempi", sheetOf(unit, tempo, note, "tempo_map = 'a.mid'"), `s.toml:8: song "Sluice": has tempo_bpm and tempo_map: leave one of them out`},
		{"a map that moves the cursor", sheetOf(unit, note, `tempo_map = "\u001B[2J"`), `song "Sluice": tempo_map "\x1b[2J": holds a control character`},
		{"a note value that does not exist", sheetOf(unit, tempo, "note = '1/7'"), `s.toml:7: song "Sluice": note "1/7": there is no such note value; there are 1/1, 1/2`},
		{"a note value in words", sheetOf(unit, tempo, "note = 'quarter'"), `s.toml:7: song "Sluice": note "quarter": write 1/4, 1/8. (dotted) or 1/8t (triplet)`},
		{"no note value", sheetOf(unit, tempo), `s.toml:3: song "Sluice": note is missing: the note value that a head is to fall on, such as "1/8."`},
		{"head 0", sheetOf(unit, tempo, note, "head = 0"), `s.toml:8: song "Sluice": head: head 0: must lie from 1 to 64`},
		{"an unknown mode", sheetOf(unit, tempo, "mode = 'shuffle'"), `s.toml:7: song "Sluice": mode "shuffle": there are speed, grid, nearest`},
		{"an empty mode", sheetOf(unit, tempo, note, "mode = ''"), `s.toml:8: song "Sluice": mode "": there are speed, grid, nearest`},
		{"a note on a grid", sheetOf(unit, tempo, note, "mode = 'grid'"), `s.toml:7: song "Sluice": note and head are for mode "speed"`},
		{"a grid without its mode", sheetOf(unit, tempo, note, "grid = ['1/8']"), `s.toml:8: song "Sluice": grid is for mode "grid"`},
		{"a grid without notes", sheetOf(unit, tempo, "mode = 'grid'", "grid = []"), `s.toml:8: song "Sluice": grid: no note values to choose from`},
		{"a grid with a note twice", sheetOf(unit, tempo, "mode = 'grid'", "grid = ['1/8', '1/8']"), `song "Sluice": grid: note "1/8" stands twice`},
		{"no heads", sheetOf(unit, tempo, note, "heads = []"), `s.toml:8: song "Sluice": heads is empty: name those to be heard, or leave it out`},
		{"a head twice", sheetOf(unit, tempo, note, "heads = [2, 6, 2]"), `s.toml:8: song "Sluice": heads names head 2 twice`},
		{"a head that no unit has", sheetOf(unit, tempo, note, "heads = [65]"), `song "Sluice": heads: head 65: must lie from 1 to 64`},
		{"echoes far too loud", sheetOf(unit, tempo, note, "echo_level_db = 61"), `s.toml:8: song "Sluice": echo_level_db 61: must lie from -60 to 60`},
		{"a unit that is no name", sheetOf("unit = 'The Drum'", tempo, note), `s.toml:5: song "Sluice": unit "The Drum": use lower-case letters, digits and single - _ . between them; or name a file`},
		{"a revision that is no number", sheetOf("unit = 'fen@last'", tempo, note), `s.toml:5: song "Sluice": unit "fen@last": a revision is a number from 1 on, such as fen@1; or name a file`},
		{"a unit without a name", sheetOf("unit = ''", tempo, note), `s.toml:5: song "Sluice": unit is empty: give it a name`},
		{"a unit's file that moves the cursor", sheetOf(`unit = "\u001B.toml"`, tempo, note), `song "Sluice": unit "\x1b.toml": holds a control character`},
		{"no unit", sheetOf(tempo, note), `s.toml:3: unit in [[song]] is missing; add it`},
		{"notes that move the cursor", sheetOf(unit, tempo, note, `notes = "\u001B"`), `song "Sluice": notes are too long or hold a control character`},
		{"a key that is not known", sheetOf(unit, "tempo = 100", note), `s.toml:6: unknown key tempo in [[song]]`},
		{"a slot twice", head + song("Ebb", 5) + song("Flood", 6) + song("Slack", 5), `s.toml:20: song "Slack": slot 5 is that of "Ebb" too: give each song a slot of its own`},
		{"a title twice", head + song("Ebb", 5) + song("Ebb", 6), `s.toml:10: song "Ebb": stands twice: songs are told apart by their titles, so change one`},
		{"an empty title", head + song(" ", 5), `s.toml:4: song 1 of the sheet: title is empty: give it one`},
		{"a title that is a book", head + song(strings.Repeat("x", 201), 5), `title is too long`},
		{"a slot below 0", head + song("Ebb", -1), `s.toml:8: song "Ebb": slot -1: must lie from 0 to 16383`},
		{"no slot", head + "[[song]]\ntitle = 'x'\nunit = 'fen'\ntempo_bpm = 100\nnote = '1/4'\n", `s.toml:3: slot in [[song]] is missing; add it`},
		{"no songs", head, `s.toml:1: song is missing; add it`},
		{"an empty list of songs", head + "song = []\n", `s.toml:3: song is missing: a song sheet has at least one [[song]]`},
		{"no name", "format = 'echowright-songs/1'\n" + song("Ebb", 5), `name is missing; add it`},
		{"a name that is a path", "format = 'echowright-songs/1'\nname = '../up'\n" + song("Ebb", 5), `s.toml:2: name "../up": use lower-case letters`},
		{"another kind of file", "format = 'echowright-unit/1'\nname = 'fen'\n", `format "echowright-unit/1" is that of a unit file; give a songs file here`},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := ParseSongs("s.toml", []byte(c.text))
			require.ErrorContains(t, err, c.want)
			require.Equal(t, SongSheet{}, s)
		})
	}
}

func TestASheetFromTheFutureIsNotWrongButNotUnderstood(t *testing.T) {
	_, err := ParseSongs("s.toml", []byte("format = 'echowright-songs/2'\n"))
	var newer *stricttoml.UnsupportedError
	require.ErrorAs(t, err, &newer)
}

func TestAllMistakesOfASheetAreToldAtOnce(t *testing.T) {
	_, err := ParseSongs("s.toml", []byte(sheetOf("unit = 'A'", "tempo_bpm = 0", "note = '1/3'", "head = 99")))
	for _, want := range []string{"s.toml:5: ", "s.toml:6: ", "s.toml:7: ", "s.toml:8: "} {
		require.ErrorContains(t, err, want)
	}
}

func TestASheetThatNoFileCanHoldIsNotWritten(t *testing.T) {
	s := tidewrack()
	s.Songs[1].Slot = s.Songs[0].Slot
	s.Songs[4].Tempo = 0
	_, err := FormatSongs(s)
	require.EqualError(t, err, `song sheet "tidewrack" cannot be written: song "Glasswort": slot 5 is that of "Eelgrass \"Ebb\"" too: give each song a slot of its own`+
		"\n"+`song "Sluice": its tempo is missing: give tempo_bpm, or tempo_map with a Standard MIDI File`)
	var fields preset.FieldErrors
	require.ErrorAs(t, err, &fields)
	require.Equal(t, "song.1.slot", fields[0].Path)
}

func TestSongSheetsHaveAShelf(t *testing.T) {
	l := open(t)
	e, err := l.Songs.Add(t.Context(), "s.toml", []byte(tidewrackText), false)
	require.NoError(t, err)
	require.Equal(t, "tidewrack", e.Name)
	got, err := l.Songs.Get("tidewrack")
	require.NoError(t, err)
	require.Equal(t, tidewrack(), got.Value)
	_, err = l.Songs.Get("tidewreck")
	require.EqualError(t, err, `no song sheet "tidewreck" in the library: did you mean "tidewrack"?`)
}

func FuzzParseSongs(f *testing.F) {
	f.Add([]byte(tidewrackText))
	f.Add([]byte(sheetOf("unit = 'fen'", "tempo_bpm = 1e2", "note = '1/4'", "mode = 'speed'", "heads = [ 3, 1 ]")))
	f.Add([]byte(sheetOf("unit = 'a/b'", "tempo_map = 'x'", "mode = 'nearest'", "echo_level_db = -0.0", "note = ''")))
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := ParseSongs("s.toml", text)
		if err != nil {
			return
		}
		canonical, err := FormatSongs(s)
		require.NoError(t, err)
		again, err := ParseSongs("s.toml", canonical)
		require.NoError(t, err)
		require.Equal(t, s, again)
	})
}
