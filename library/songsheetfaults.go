package library

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"echowright/preset"
)

const (
	mostTitle                     = 200 // bytes
	mostEchoLevel preset.Decibels = 60  // beyond, it is a slip of the pen
)

// mistakes are all of a sheet; has tells which keys stand in its file, where there
// is one.
func (s SongSheet) mistakes(has func(path string) bool) preset.FieldErrors {
	var f faults
	if err := checkName(s.Name); err != nil {
		f.add("name", "name", "%v", err)
	}
	f.text("notes", s.Notes, "\n\t")
	if len(s.Songs) == 0 {
		f.add("song", "song", "is missing: a song sheet has at least one [[song]]")
	}
	titles, slots := map[string]bool{}, map[int]string{}
	for i, song := range s.Songs {
		c := songFaults{faults: &f, song: song, index: i, has: has}
		c.title(titles)
		c.tempo()
		c.unit()
		c.echoes()
		c.slot(slots)
	}
	return f.found
}

// songFaults collects the mistakes of one song.
type songFaults struct {
	*faults
	song  Song
	index int
	has   func(path string) bool
}

// wrong adds a mistake at a key; it begins with the song's title.
func (c *songFaults) wrong(key, format string, args ...any) {
	c.add(songKey(c.index, key), fmt.Sprintf("song %q:", c.song.Title), format, args...)
}

func (c *songFaults) title(taken map[string]bool) {
	title := c.song.Title
	switch {
	case strings.TrimSpace(title) == "":
		c.add(songKey(c.index, "title"), fmt.Sprintf("song %d of the sheet:", c.index+1), "title is empty: give it one")
	case len(title) > mostTitle || !printable(title, ""):
		c.wrong("title", "title is too long or holds a control character: write it anew")
	case taken[title]:
		c.wrong("title", "stands twice: songs are told apart by their titles, so change one")
	}
	taken[title] = true
}

func (c *songFaults) tempo() {
	s := c.song
	told := c.has(songKey(c.index, "tempo_bpm")) || s.Tempo != 0
	switch {
	case told && s.TempoMap != "":
		c.wrong("tempo_map", "has tempo_bpm and tempo_map: leave one of them out")
	case told:
		if err := preset.CheckTempo(s.Tempo); err != nil {
			c.wrong("tempo_bpm", "%v", err)
		}
	case s.TempoMap == "":
		c.wrong("tempo_bpm", "its tempo is missing: give tempo_bpm, or tempo_map with a Standard MIDI File")
	case !printable(s.TempoMap, ""):
		c.wrong("tempo_map", "tempo_map %q: holds a control character", s.TempoMap)
	}
}

func (c *songFaults) unit() {
	unit := c.song.Unit
	file := strings.ContainsAny(unit, `/\`) || strings.HasSuffix(unit, extension)
	if _, _, err := splitRevision(unit); err != nil && !file {
		c.wrong("unit", "unit %v; or name a file that ends in %s", err, extension)
	} else if !printable(unit, "") {
		c.wrong("unit", "unit %q: holds a control character", unit)
	}
}

// echoes are the keys that say which echoes the song is to have.
func (c *songFaults) echoes() {
	s := c.song
	if c.has(songKey(c.index, "heads")) && len(s.Heads) == 0 {
		c.wrong("heads", "heads is empty: name those to be heard, or leave it out for all")
	}
	for i, h := range s.Heads {
		c.head("heads", h)
		if slices.Contains(s.Heads[:i], h) {
			c.wrong("heads", "heads names head %d twice", h)
		}
	}
	if s.EchoLevel < -mostEchoLevel || s.EchoLevel > mostEchoLevel {
		c.wrong("echo_level_db", "echo_level_db %v: must lie from %v to %v", float64(s.EchoLevel), -float64(mostEchoLevel), float64(mostEchoLevel))
	}
	if !printable(s.Notes, "\n\t") || len(s.Notes) > mostNote {
		c.wrong("notes", "notes are too long or hold a control character: write them anew")
	}
	c.mode()
}

func (c *songFaults) head(key string, number int) {
	if number < 1 || number > preset.MaxHeads {
		c.wrong(key, "%s: head %d: must lie from 1 to %d", key, number, preset.MaxHeads)
	}
}

// mode checks that each key stands beside the mode that it belongs to.
func (c *songFaults) mode() {
	s := c.song
	if !slices.Contains(songModes, s.Mode) {
		c.wrong("mode", "mode %q: there are speed, grid, nearest", string(s.Mode))
		return
	}
	anchored := s.Note != "" || s.Head != 0 || c.has(songKey(c.index, "head"))
	gridded := len(s.Grid) > 0 || c.has(songKey(c.index, "grid"))
	if s.Mode != ModeSpeed && anchored {
		c.wrong("note", "note and head are for mode \"speed\", in which one head falls on a note: leave them out")
	}
	if s.Mode != ModeGrid && gridded {
		c.wrong("grid", "grid is for mode \"grid\", in which each head goes to its own note: leave it out")
	}
	switch {
	case s.Mode == ModeSpeed:
		c.anchor()
	case s.Mode == ModeGrid && gridded:
		if _, err := preset.ParseNotes(s.Grid); err != nil {
			c.wrong("grid", "grid: %v", err)
		}
	}
}

func (c *songFaults) anchor() {
	s := c.song
	if s.Head != 0 || c.has(songKey(c.index, "head")) {
		c.head("head", s.Head)
	}
	_, err := preset.ParseNote(s.Note)
	if s.Note == "" {
		err = errors.New("note is missing: the note value that a head is to fall on, such as \"1/8.\"")
	}
	if err != nil {
		c.wrong("note", "%v", err)
	}
}

func (c *songFaults) slot(taken map[int]string) {
	n := c.song.Slot
	if n < 0 || n > topSlot {
		c.wrong("slot", "slot %d: must lie from 0 to %d", n, topSlot)
	}
	if other, ok := taken[n]; ok {
		c.wrong("slot", "slot %d is that of %q too: give each song a slot of its own", n, other)
		return
	}
	taken[n] = c.song.Title
}
