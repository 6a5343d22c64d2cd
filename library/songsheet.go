package library

import (
	"fmt"
	"strconv"
	"strings"

	"echowright/preset"
	"echowright/preset/stricttoml"
)

// A SongSheet is a set list: which echo each song is to have, and in which slot of
// the device.
type SongSheet struct {
	Name  string `toml:"name" json:"name"`
	Notes string `toml:"notes" json:"notes,omitempty"`
	Songs []Song `toml:"song" json:"song"` // in the order in which they are played
}

// A Song is one of a set list, and how a unit's echoes are brought to it.
type Song struct {
	Title     string          `toml:"title" json:"title"`
	Tempo     preset.BPM      `toml:"tempo_bpm" json:"tempo_bpm,omitempty"` // 0 where TempoMap has it
	TempoMap  string          `toml:"tempo_map" json:"tempo_map,omitempty"` // a Standard MIDI File, its path seen from the sheet
	Unit      string          `toml:"unit" json:"unit"`                     // one of the library, as SongUnit takes it, or a file, its path seen from the sheet
	Heads     []int           `toml:"heads" json:"heads,omitempty"`         // those to be heard; none: all
	Mode      SongMode        `toml:"mode" json:"mode"`
	Note      string          `toml:"note" json:"note,omitempty"` // with ModeSpeed, as preset.ParseNote reads it
	Head      int             `toml:"head" json:"head,omitempty"` // with ModeSpeed, the one that falls on Note; 0: the last one
	Grid      []string        `toml:"grid" json:"grid,omitempty"` // with ModeGrid, as preset.ParseNotes reads it; none: all common notes
	Slot      int             `toml:"slot" json:"slot"`
	EchoLevel preset.Decibels `toml:"echo_level_db" json:"echo_level_db,omitempty"` // louder (+) than the unit's own echoes are beside its direct sound
	Notes     string          `toml:"notes" json:"notes,omitempty"`
}

// SongMode is how the delays of a unit follow a song.
type SongMode string

// The modes: all delays together, as if the machine ran at another speed, until
// one head falls on a note; each head to its own note value; or not at all.
const (
	ModeSpeed   SongMode = "speed"
	ModeGrid    SongMode = "grid"
	ModeNearest SongMode = "nearest"
)

var songModes = []SongMode{ModeSpeed, ModeGrid, ModeNearest}

var songsKind = stricttoml.Kind{Name: "songs", Version: 1, Limit: 1 << 20}

// ParseSongs reads the text of a song sheet; errors begin with file.
func ParseSongs(file string, text []byte) (SongSheet, error) {
	var s SongSheet
	doc, err := songsKind.Decode(file, text, &s)
	if err != nil {
		return SongSheet{}, err
	}
	if err := doc.Require("name", "song", "song.*.title", "song.*.unit", "song.*.slot"); err != nil {
		return SongSheet{}, err
	}
	for i := range s.Songs {
		if song := &s.Songs[i]; !doc.Has(songKey(i, "mode")) {
			song.Mode = ModeSpeed
		}
	}
	if mistakes := s.mistakes(doc.Has); len(mistakes) > 0 {
		return SongSheet{}, doc.Locate(mistakes)
	}
	return s, nil
}

// songKey is the path of a key of the song with that index.
func songKey(i int, key string) string { return fmt.Sprintf("song.%d.%s", i, key) }

// FormatSongs writes a song sheet as the text of its file.
func FormatSongs(s SongSheet) ([]byte, error) {
	if mistakes := s.mistakes(func(string) bool { return false }); len(mistakes) > 0 {
		return nil, fmt.Errorf("song sheet %q cannot be written: %w", s.Name, mistakes)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "format = %s\nname = %s\n", stricttoml.Quote(songsKind.Format()), stricttoml.Quote(s.Name))
	if s.Notes != "" {
		fmt.Fprintf(&b, "notes = %s\n", stricttoml.Quote(s.Notes))
	}
	for _, song := range s.Songs {
		b.WriteString("\n[[song]]\n")
		for _, line := range song.lines() {
			if line.value != "" {
				fmt.Fprintf(&b, "%s = %s\n", line.key, line.value)
			}
		}
	}
	return []byte(b.String()), nil
}

// A sheetLine is a key of a song and its value as TOML, "" for one that is left out.
type sheetLine struct{ key, value string }

func (s Song) lines() []sheetLine {
	mode := s.Mode
	if mode == ModeSpeed {
		mode = ""
	}
	return []sheetLine{
		{"title", stricttoml.Quote(s.Title)},
		{"tempo_bpm", unlessZero(float64(s.Tempo))},
		{"tempo_map", unlessEmpty(s.TempoMap)},
		{"unit", stricttoml.Quote(s.Unit)},
		{"heads", list(s.Heads, strconv.Itoa)},
		{"mode", unlessEmpty(string(mode))},
		{"note", unlessEmpty(s.Note)},
		{"head", unlessZero(float64(s.Head))},
		{"grid", list(s.Grid, stricttoml.Quote)},
		{"slot", strconv.Itoa(s.Slot)},
		{"echo_level_db", unlessZero(float64(s.EchoLevel))},
		{"notes", unlessEmpty(s.Notes)},
	}
}

func unlessZero(v float64) string {
	if v == 0 {
		return ""
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

func unlessEmpty(s string) string {
	if s == "" {
		return ""
	}
	return stricttoml.Quote(s)
}

func list[T any](all []T, text func(T) string) string {
	if len(all) == 0 {
		return ""
	}
	words := make([]string, len(all))
	for i, v := range all {
		words[i] = text(v)
	}
	return "[" + strings.Join(words, ", ") + "]"
}
