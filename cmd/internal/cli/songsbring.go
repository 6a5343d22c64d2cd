package cli

import (
	"fmt"
	"slices"

	"echowright/library"
	"echowright/preset"
)

// A broughtSong is a song whose unit has been brought to its tempo.
type broughtSong struct {
	setSong
	retimed preset.Retimed
	pattern preset.Pattern // the echoes wanted
	remarks []string       // what to mind about it
}

// bringAll brings every song's unit to its tempo. The error holds one for each song
// for which that cannot be done.
func bringAll(songs []setSong) ([]broughtSong, error) {
	all := make([]broughtSong, len(songs))
	var failed failures
	for i, s := range songs {
		var err error
		all[i], err = bring(s)
		failed = failed.and(ofSong(s.Title, err))
	}
	return all, failed.err()
}

func bring(s setSong) (broughtSong, error) {
	r, err := s.retime()
	if err != nil {
		return broughtSong{}, err
	}
	b := broughtSong{setSong: s, retimed: r}
	if b.pattern, err = r.Unit.Pattern(s.Heads...); err != nil {
		return broughtSong{}, err
	}
	b.setLevel()
	b.judge()
	return b, nil
}

// retime is the song's unit in the song's own mode.
func (s setSong) retime() (preset.Retimed, error) {
	switch s.Mode {
	case library.ModeGrid:
		notes := preset.CommonNotes()
		if len(s.Grid) > 0 {
			var err error
			if notes, err = preset.ParseNotes(s.Grid); err != nil {
				return preset.Retimed{}, err
			}
		}
		return preset.Grid(s.unit, s.tempo, notes)
	case library.ModeNearest:
		return preset.Unaltered(s.unit, s.tempo, preset.CommonNotes())
	}
	note, err := preset.ParseNote(s.Note)
	if err != nil {
		return preset.Retimed{}, err
	}
	return preset.Retime(s.unit, s.tempo, note, s.anchor())
}

// anchor is the head that falls on the note, as everywhere the last one if none is
// named.
func (s setSong) anchor() int {
	if s.Head != 0 {
		return s.Head
	}
	return lastHead(s.unit)
}

// setLevel makes the echoes louder or softer beside the direct sound than the
// unit's are.
func (b *broughtSong) setLevel() {
	if b.EchoLevel == 0 {
		return
	}
	level := b.EchoLevel
	if b.pattern.EchoToDirect == nil {
		b.mind("how loud the unit's direct sound is beside its echoes is not known: echo_level_db is taken from the loudest head as loud as the direct sound")
	} else {
		level += *b.pattern.EchoToDirect
	}
	b.pattern.EchoToDirect = &level
}

// judge minds what no machine would do, and what will be heard of it.
func (b *broughtSong) judge() {
	if preset.ReachOf(b.retimed.SpeedRatio) == preset.ReachNever {
		b.mind("no motor would run the unit at %.3g of its speed: take another note or head, or mode \"grid\"", b.retimed.SpeedRatio)
	}
	if b.Mode == library.ModeGrid {
		for _, n := range b.retimed.Together() {
			b.mind("heads %s fall on one note value, %s, and become one echo", namedHeads(n.Heads), n.Note)
		}
	}
	if w := b.tempiWarning(b.watched()); w != "" {
		b.mind("%s", w)
	}
}

// watched is the head by which a moving tempo is judged: the one that falls on the
// note, else the last one that is heard.
func (b *broughtSong) watched() (head int, delay preset.Millis) {
	last := b.pattern.Taps[len(b.pattern.Taps)-1]
	for _, t := range b.pattern.Taps {
		if b.Mode == library.ModeSpeed && t.Head == b.anchor() {
			last = t
		}
	}
	return last.Head, last.Delay
}

func (b *broughtSong) mind(format string, args ...any) {
	b.remarks = append(b.remarks, fmt.Sprintf(format, args...))
}

// heard are the heads that sound, as they now are.
func (b broughtSong) heard() []preset.RetimedHead {
	var all []preset.RetimedHead
	for _, h := range b.retimed.Heads {
		if len(b.Heads) == 0 || slices.Contains(b.Heads, h.Head) {
			all = append(all, h)
		}
	}
	return all
}

// A shifted head is how far a head is from where it might be expected.
type shifted struct {
	head int
	by   preset.Millis
	jnd  preset.Millis // what can just be noticed at its delay
}

// worst is the head that is the furthest off, in units of what can be noticed: off
// its note, or on a grid, where all are on their notes, off where it was measured.
func (b broughtSong) worst() shifted {
	var worst shifted
	for i, h := range b.heard() {
		s := shifted{head: h.Head, by: h.Off, jnd: preset.TimingJND(h.Delay)}
		if b.Mode == library.ModeGrid {
			s.by = h.Shift
		}
		if i == 0 || s.noticed() > worst.noticed() {
			worst = s
		}
	}
	return worst
}

func (s shifted) noticed() float64 { return float64(max(s.by, -s.by) / s.jnd) }
