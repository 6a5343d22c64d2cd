package cli

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/preset"
	"echowright/profiles"
	"echowright/profiles/arrange"
)

// A lack is what is not to be had of a pattern.
type lack struct {
	missing, of int             // echoes
	off         preset.Decibels // the worst level of those that are there
}

// tolerableLevel is what a level may be off and still be had: the rule of thumb for
// the least that is heard (common practice, no source).
const tolerableLevel preset.Decibels = 1

func lacking(r arrange.Result) lack {
	missing, _, db := worst(r.Echoes)
	return lack{missing: missing, of: len(r.Echoes), off: preset.Decibels(db)}
}

func (l lack) any() bool { return l.missing > 0 || l.off > tolerableLevel }

func (l lack) words() string {
	var words []string
	if l.missing > 0 {
		words = append(words, fmt.Sprintf("%d of %s", l.missing, ui.Count(l.of, "echo", "echoes")))
	}
	if l.off > tolerableLevel {
		words = append(words, fmt.Sprintf("levels up to %.1f dB off", float64(l.off)))
	}
	return strings.Join(words, ", ")
}

// A beyond is a head whose delay lies outside of what a device can do.
type beyond struct {
	Head  int           `json:"head"`
	Delay preset.Millis `json:"delay_ms"`
	Limit preset.Millis `json:"limit_ms"` // the longest or the shortest delay of the device
}

// delaySpan is the shortest and the longest delay that one line or tap of a device
// can be set to; ok is false where its times are not in milliseconds.
func delaySpan(d *profiles.Device) (least, most preset.Millis, ok bool) {
	for _, a := range d.Abilities() {
		if a.Role != profiles.RoleTime || a.Unit != "ms" {
			continue
		}
		if !ok {
			least, most, ok = preset.Millis(a.Least), preset.Millis(a.Greatest), true
		}
		least, most = min(least, preset.Millis(a.Least)), max(most, preset.Millis(a.Greatest))
	}
	return least, most, ok
}

// beyondReach lists the heads of a pattern, heard or in the loop, whose delays the
// device does not reach, each once.
func beyondReach(p preset.Pattern, d *profiles.Device) []beyond {
	least, most, ok := delaySpan(d)
	if !ok {
		return nil
	}
	var all []beyond
	note := func(head int, delay preset.Millis) {
		if delay >= least && delay <= most || slices.ContainsFunc(all, func(b beyond) bool { return b.Head == head }) {
			return
		}
		limit := most
		if delay < least {
			limit = least
		}
		all = append(all, beyond{Head: head, Delay: delay, Limit: limit})
	}
	for _, t := range p.Taps {
		note(t.Head, t.Delay)
	}
	for _, r := range p.Returns {
		note(r.Head, r.Delay)
	}
	return all
}

// loopBeyond reports whether the loop is among the delays that are out of reach: it
// cannot go on by itself then, even if its first turns can be had.
func loopBeyond(p preset.Pattern, all []beyond) bool {
	return slices.ContainsFunc(p.Returns, func(r preset.Return) bool {
		return slices.ContainsFunc(all, func(b beyond) bool { return b.Head == r.Head })
	})
}

// An offer is another note value with which the device can do more of a song.
type offer struct {
	Mode    library.SongMode `json:"mode"`
	Note    string           `json:"note"`
	Speed   float64          `json:"speed_ratio"` // of the unit, against the measured one
	Longest preset.Millis    `json:"longest_ms"`
	Echoes  int              `json:"echoes"`
	Missing int              `json:"missing"`      // echoes that are not to be had either
	Off     preset.Decibels  `json:"level_off_db"` // the worst of the others

	change float64 // of the speed, against the song as it is
}

// mostOffers is how many notes are tried for a song: each takes as long as
// planning it.
const mostOffers = 3

// offerFor looks for the note that brings all heads within reach and changes the
// speed the least. It is tried on the device: one that gives not all and comes no
// nearer either is no offer.
func offerFor(p plannedSong, d *profiles.Device) *offer {
	tried := 0
	for _, note := range p.otherNotes() {
		s := p.setSong
		s.Mode, s.Note, s.Head, s.Grid = library.ModeSpeed, note.String(), p.anchor(), nil
		b, err := bring(s)
		if err != nil || len(beyondReach(b.pattern, d)) > 0 {
			continue
		}
		if tried++; tried > mostOffers {
			return nil
		}
		r, err := arrange.Arrange(b.pattern, d)
		if err != nil {
			continue
		}
		if l := lacking(r); !l.any() || r.Error < p.Error {
			return &offer{
				Mode: s.Mode, Note: s.Note, Speed: b.retimed.SpeedRatio, Longest: b.pattern.Taps[len(b.pattern.Taps)-1].Delay,
				Echoes: l.of, Missing: l.missing, Off: l.off, change: b.retimed.SpeedRatio / p.retimed.SpeedRatio,
			}
		}
	}
	return nil
}

// otherNotes are the notes that the song's anchor could fall on in place of its
// own: those half or twice as long, and so on, which keep its feel; or all, where
// no note was named. The nearest to what the song has come first.
func (p plannedSong) otherNotes() []preset.Note {
	now, ok := p.retimed.Unit.Head(p.anchor())
	if !ok {
		return nil
	}
	all := slices.DeleteFunc(preset.CommonNotes(), func(n preset.Note) bool {
		return p.Mode == library.ModeSpeed && (n.String() == p.Note || !multiple(n, p.Note))
	})
	far := func(n preset.Note) float64 { return math.Abs(math.Log(float64(n.Length(p.tempo) / now.Delay))) }
	slices.SortStableFunc(all, func(a, b preset.Note) int { return cmp.Compare(far(a), far(b)) })
	return all
}

// multiple reports whether a note is a multiple of another by powers of two.
func multiple(n preset.Note, text string) bool {
	other, err := preset.ParseNote(text)
	return err == nil && n.Dots == other.Dots && n.Triplet == other.Triplet
}

// reachWords say which delays are beyond reach, and what could be had instead.
func (p plannedSong) reachWords(device string) string {
	var heads []string
	for _, b := range p.beyond {
		side := "beyond the longest"
		if b.Delay < b.Limit {
			side = "short of the shortest"
		}
		heads = append(heads, fmt.Sprintf("head %d at %.1f ms is %.1f ms %s delay, %v", b.Head, float64(b.Delay), math.Abs(float64(b.Delay-b.Limit)), side, b.Limit))
	}
	text := device + ": " + strings.Join(heads, "; ")
	if p.offer == nil {
		return text + "; no other note does better: leave heads out"
	}
	return text + "; instead: " + p.offer.words(p.Mode)
}

func (o offer) words(mode library.SongMode) string {
	text := "note " + o.Note
	if mode != library.ModeSpeed {
		text = fmt.Sprintf("mode %q with note %s", string(o.Mode), o.Note)
	}
	had := "all echoes to be had"
	if l := (lack{o.Missing, o.Echoes, o.Off}); l.any() {
		had = "not to be had: " + l.words()
	}
	return fmt.Sprintf("%s, %s, the last head at %.1f ms, %s", text, timesTheSpeed(o.change), float64(o.Longest), had)
}

func timesTheSpeed(change float64) string {
	switch {
	case math.Abs(change-2) < 1e-9:
		return "twice the speed"
	case math.Abs(change-0.5) < 1e-9:
		return "half the speed"
	}
	return fmt.Sprintf("%.4g times the speed", change)
}
