package cli

import (
	"fmt"
	"strings"

	"echowright/cmd/internal/ui"
	"echowright/library/exchange"
	"echowright/preset"
	"echowright/profiles"
)

// followShow tells how a device follows a clock: a line for each update is the
// result, the rest is talk, and on a terminal the tempo stands in a line that is
// written over again and again.
type followShow struct {
	call   *call
	clock  string
	device *profiles.Device
	line   bool // there is one to be wiped away
}

// followView is one update as scripts get it, one on a line.
type followView struct {
	At       float64             `json:"seconds"`
	Tempo    preset.BPM          `json:"bpm"`
	Heads    []exchange.HeadTime `json:"head"`
	Halved   int                 `json:"halved"`
	Notes    []exchange.NoteTime `json:"note,omitempty"`
	Sent     []profiles.Row      `json:"sent"`
	Messages int                 `json:"messages"`
	Bytes    int                 `json:"bytes"`
}

func (s *followShow) updated(u exchange.FollowUpdate) error {
	s.wipe()
	if s.call.json {
		return ui.JSONLine(s.call.out, followView{
			At: u.At.Seconds(), Tempo: u.Tempo, Heads: listOrEmpty(u.Heads), Halved: u.Halved, Notes: u.Notes,
			Sent: listOrEmpty(u.Sent), Messages: u.Spent.Messages, Bytes: u.Spent.Bytes,
		})
	}
	s.call.print("%9.3f s  %7.2f BPM  %s", u.At.Seconds(), float64(u.Tempo), headWords(u))
	for _, n := range u.Notes {
		s.call.print("%13s%s = %s: %s ms, %s", "", n.Parameter, n.Note, ui.Fixed(float64(n.Got), 1), offWords(n))
	}
	return nil
}

func headWords(u exchange.FollowUpdate) string {
	var words []string
	for _, h := range u.Heads {
		words = append(words, fmt.Sprintf("head %d %s ms", h.Head, ui.Fixed(float64(h.Delay), 1)))
	}
	text := strings.Join(words, ", ")
	if u.Halved > 0 {
		text += fmt.Sprintf(" (1/%d of what was asked)", 1<<u.Halved)
	}
	return text
}

// offWords is how far a note of the device's own is off what is wanted.
func offWords(n exchange.NoteTime) string {
	off := float64(n.Off)
	share := max(off, -off) / float64(preset.TimingJND(n.Wanted))
	switch {
	case share < 0.01:
		return "as wanted"
	case off < 0:
		return fmt.Sprintf("%s ms early: %s of what can just be noticed", ui.Fixed(-off, 1), ui.Fixed(share, 2))
	}
	return fmt.Sprintf("%s ms late: %s of what can just be noticed", ui.Fixed(off, 1), ui.Fixed(share, 2))
}

func (s *followShow) said(text string) {
	s.wipe()
	s.call.say("%s", text)
}

// tempo shows the tempo of the moment, where somebody looks.
func (s *followShow) tempo(tempo preset.BPM) {
	if !s.call.talk.Terminal() {
		return
	}
	s.wipe()
	fmt.Fprintf(s.call.talk, "%7.2f BPM", float64(tempo))
	s.line = true
}

// wipe takes the line of the tempo away: to its beginning, and empty it (ECMA-48, EL).
func (s *followShow) wipe() {
	if s.line {
		fmt.Fprint(s.call.talk, "\r\x1b[K")
		s.line = false
	}
}

// end says what is left behind.
func (s *followShow) end(f exchange.Followed) {
	s.wipe()
	last := s.call.print
	if s.call.json {
		last = s.call.say
	}
	switch {
	case f.Tempo == 0:
		last("no tempo was known from %s; nothing was set", s.clock)
	case f.Updates == 0:
		last("the clock has %.2f BPM; nothing was set", float64(f.Tempo))
	default:
		holds := "holds"
		if f.Halfway {
			holds = "may be between two tempi; before that it held"
		}
		last("the clock has %.2f BPM; %s %s the times of %.2f BPM: %s; %s, %s in all", float64(f.Tempo), s.device.Name, holds, float64(f.Last.Tempo),
			headWords(f.Last), ui.Count(f.Updates, "update", "updates"), ui.Count(f.Spent.Messages, "message", "messages"))
	}
}
