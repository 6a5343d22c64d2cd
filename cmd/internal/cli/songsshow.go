package cli

import (
	"bytes"
	"fmt"
	"strings"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/library/exchange"
	"echowright/preset"
	"echowright/profiles"
	"echowright/profiles/arrange"
)

// setView is a planned set as scripts get it.
type setView struct {
	Sheet  string     `json:"sheet"`
	Device string     `json:"device"`
	Songs  []songView `json:"song"`
}

type songView struct {
	library.Song
	Tempo        preset.BPM      `json:"tempo_bpm"` // that the slot is for
	SpeedRatio   float64         `json:"speed_ratio"`
	Reach        preset.Reach    `json:"reach"`
	Retimed      []headView      `json:"retimed"`
	WorstHead    int             `json:"worst_head"`
	WorstShift   preset.Millis   `json:"worst_shift_ms"`
	Noticeable   preset.Millis   `json:"just_noticeable_ms"`
	Echoes       int             `json:"echoes"`
	Missing      int             `json:"missing"`
	LevelOff     preset.Decibels `json:"level_off_db"` // the worst of those that are not missing
	Extra        []arrange.Extra `json:"extra"`
	PatternError preset.Decibels `json:"pattern_error_db"`
	Beyond       []beyond        `json:"beyond"`
	Offer        *offer          `json:"offer"` // null where there is none, or none is needed
	Holds        *heldView       `json:"holds"` // null where the slot was not read
	Messages     []string        `json:"message"`
	Warnings     []string        `json:"warnings"`
}

// heldView is what a slot holds now.
type heldView struct {
	Name    string `json:"name"`
	Setting bool   `json:"setting"` // false: its bytes are none
	Same    bool   `json:"same"`    // what the song wants of it already
}

func viewSet(p *plannedSet) setView {
	v := setView{Sheet: p.sheet.Name, Device: p.device.Name, Songs: []songView{}}
	for _, s := range p.songs {
		v.Songs = append(v.Songs, p.view(s))
	}
	return v
}

func (p *plannedSet) view(s plannedSong) songView {
	w, l := s.worst(), lacking(s.Result)
	v := songView{
		Song: s.Song, Tempo: s.tempo, SpeedRatio: s.retimed.SpeedRatio, Reach: preset.ReachOf(s.retimed.SpeedRatio),
		Retimed: views(s.heard()), WorstHead: w.head, WorstShift: w.by, Noticeable: w.jnd,
		Echoes: l.of, Missing: l.missing, LevelOff: l.off, Extra: listOrEmpty(s.Extra), PatternError: s.Error,
		Beyond: listOrEmpty(s.beyond), Offer: s.offer, Messages: hexes(s.steps),
		Warnings: append(listOrEmpty(s.remarks), s.Warnings...),
	}
	if slot, ok := p.held[s.Slot]; ok {
		v.Holds = &heldView{Name: slot.Setting.Name, Setting: slot.Fault == nil, Same: s.isIn(slot, p.device)}
	}
	return v
}

// isIn reports whether a slot holds the song already, as a push would find it.
func (s plannedSong) isIn(slot exchange.Slot, d *profiles.Device) bool {
	return bytes.Equal(slot.Memory, d.AppendSlot(nil, s.Setting))
}

func (c *call) showSet(p *plannedSet) error {
	if c.json {
		return ui.JSON(c.out, viewSet(p))
	}
	c.print("%s", p.headline())
	c.print("")
	c.printTable(p.table())
	for _, s := range p.songs {
		if len(s.beyond) > 0 {
			c.print("%s: %s", s.Title, s.reachWords(p.device.Name))
		}
	}
	c.print("%s", p.overwritten())
	for _, s := range p.songs {
		for _, r := range s.remarks {
			c.warn(s.Title + ": " + r)
		}
	}
	return nil
}

func (p *plannedSet) headline() string {
	whole := 0
	for _, s := range p.songs {
		if !lacking(s.Result).any() && len(s.beyond) == 0 {
			whole++
		}
	}
	return fmt.Sprintf("%s on %s: %s, %d with all their echoes", p.sheet.Name, p.device.Name, ui.Count(len(p.songs), "song", "songs"), whole)
}

func (p *plannedSet) table() ui.Table {
	t := ui.Table{Titles: []string{"song", ">BPM", "note", ">speed", ">off ms", ">just noticeable ms", ">slot", ">error dB", "cannot be had"}}
	if p.held != nil {
		t.Titles = append(t.Titles, "slot holds now")
	}
	for _, s := range p.songs {
		w := s.worst()
		row := []any{
			s.Title, shortBPM(s.tempo), s.noteWords(), ui.Fixed(s.retimed.SpeedRatio, 4),
			ui.Signed(float64(w.by), 1), ui.Fixed(float64(w.jnd), 1), s.Slot, ui.Fixed(float64(s.Error), 1), s.lackWords(),
		}
		if slot, ok := p.held[s.Slot]; ok {
			row = append(row, s.holdsWords(slot, p.device))
		}
		t.Add(row...)
	}
	return t
}

// noteWords say in a word or two how the song's delays follow it.
func (s plannedSong) noteWords() string {
	switch s.Mode {
	case library.ModeGrid:
		return "grid"
	case library.ModeNearest:
		return "as it is"
	}
	return fmt.Sprintf("%s, head %d", s.Note, s.anchor())
}

// lackWords say what the device cannot do of the song, and what it does unasked.
func (s plannedSong) lackWords() string {
	words := s.notHad()
	if n := len(s.Extra); n > 0 {
		words = strings.TrimPrefix(fmt.Sprintf("%s, %d unasked", words, n), ", ")
	}
	return words
}

// notHad is what of the song's echoes cannot be had, "" where all can.
func (s plannedSong) notHad() string {
	words := lacking(s.Result).words()
	if words == "" && len(s.beyond) > 0 {
		return "the loop by itself"
	}
	return words
}

func (s plannedSong) holdsWords(slot exchange.Slot, d *profiles.Device) string {
	switch {
	case s.isIn(slot, d):
		return "this song already"
	case slot.Fault != nil:
		return "no setting"
	case slot.Setting.Name == "":
		return "a setting without a name"
	}
	return slot.Setting.Name
}

// overwritten says which slots the set would be written over.
func (p *plannedSet) overwritten() string {
	var slots []int
	for _, s := range p.songs {
		if slot, ok := p.held[s.Slot]; !ok || !s.isIn(slot, p.device) {
			slots = append(slots, s.Slot)
		}
	}
	if len(slots) == 0 {
		return "nothing would be overwritten: all slots hold their songs"
	}
	return "would be overwritten: " + library.SlotWords(slots)
}
