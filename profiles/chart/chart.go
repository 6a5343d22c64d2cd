// Package chart turns a device profile into an implementation chart: the sheet at
// the end of a manual that says which message sets what, and what its numbers
// mean. It draws the same table as plain text, as Markdown and as HTML.
package chart

import (
	"fmt"
	"strconv"
	"strings"

	"echowright/preset"
	"echowright/profiles"
)

// A Chart is a device profile as rows to be printed.
type Chart struct {
	Title string
	Notes string
	Facts []Fact // what holds for the device as a whole
	Rows  []Row
}

// A Fact is one line at the head of the chart.
type Fact struct{ Name, Says string }

// A Row is one parameter.
type Row struct {
	Parameter string
	SetBy     string // the message, "" where it cannot be set alone
	Codes     string // "0-127"
	Meaning   string // "−60.0 dB … 0.0 dB, 0.5 dB apart"
	Remarks   string // words for codes, what it is a share of, where it rests
}

// The columns of a chart.
var columns = []string{"parameter", "set by", "codes", "meaning", "remarks"}

func (r Row) cells() []string {
	return []string{r.Parameter, r.SetBy, r.Codes, r.Meaning, r.Remarks}
}

// Of is the chart of a device.
func Of(d *profiles.Device) Chart {
	c := Chart{Title: strings.TrimSuffix(d.Name+": "+d.Title, ": "), Notes: d.Notes, Facts: facts(d)}
	for i := range d.Parameters {
		c.Rows = append(c.Rows, row(d, i))
	}
	return c
}

func row(d *profiles.Device, i int) Row {
	p := d.Parameters[i]
	r := Row{Parameter: p.Name, SetBy: d.Way(i), Codes: span(p.Scale.Low, p.Scale.High()), Meaning: meaning(p.Scale), Remarks: remarks(d, p)}
	if r.SetBy == "" {
		r.SetBy = "with the whole slot"
		if !d.WritesSlots() {
			r.SetBy = "cannot be set"
		}
	}
	return r
}

func span(low, high int) string { return fmt.Sprintf("%d-%d", low, high) }

// meaning is the range of a scale of numbers and how far apart its codes lie, or
// its choices.
func meaning(s *profiles.Scale) string {
	if words := s.Words(); len(words) > 0 {
		return strings.Join(words, ", ")
	}
	rising := s.Rising()
	if len(rising) == 0 {
		return "no code stands for a number"
	}
	first, last := rising[0], rising[len(rising)-1]
	if s.Unit == "beats" {
		notes := make([]string, len(rising))
		for i, code := range rising {
			notes[i] = s.Note(code)
		}
		return strings.Join(notes, ", ")
	}
	unit := strings.TrimRight(" "+s.Unit, " ")
	text := fmt.Sprintf("%s%s (code %d) to %s%s (code %d)", number(s.Value(first).Number), unit, first, number(s.Value(last).Number), unit, last)
	if len(rising) < 2 {
		return text
	}
	narrow, wide := s.Steps()
	if narrow == wide || number(narrow) == number(wide) {
		return text + fmt.Sprintf(", %s%s apart", number(narrow), unit)
	}
	return text + fmt.Sprintf(", %s to %s%s apart", number(narrow), number(wide), unit)
}

// number has as many decimals as tell something, three at most.
func number(v float64) string {
	s := strconv.FormatFloat(v, 'f', 3, 64)
	s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}

func remarks(d *profiles.Device, p profiles.Parameter) string {
	var all []string
	s := p.Scale
	if code, ok := s.Silent(); ok {
		all = append(all, fmt.Sprintf("%d is silent", code))
	}
	if code, ok := s.Off(); ok {
		all = append(all, fmt.Sprintf("%d is off", code))
	}
	if n := len(s.Inverted()); n > 0 {
		all = append(all, fmt.Sprintf("%d codes turn the sign", n))
	}
	switch {
	case p.Of == profiles.Clock:
		all = append(all, "of the MIDI clock")
	case p.Of >= 0:
		all = append(all, "of "+d.Parameters[p.Of].Name)
	}
	if p.Reach != nil {
		all = append(all, "its reach depends on "+d.Parameters[p.Reach.Of].Name)
	}
	return strings.Join(all, "; ")
}

func facts(d *profiles.Device) []Fact {
	all := []Fact{{"structure", structure(d)}}
	if d.HasSlots() || d.Readable() {
		all = append(all, Fact{"memory", memory(d)})
	}
	if d.Manners.ByChannel {
		all = append(all, Fact{"channels", span(d.Manners.FirstChannel, d.Manners.LastChannel)})
	} else {
		all = append(all, Fact{"unit numbers", span(d.Manners.FirstUnit, d.Manners.LastUnit)})
	}
	all = append(all, Fact{"manners", manners(d.Manners)})
	if d.Identity != nil {
		all = append(all, Fact{"identity", d.Identity.String()})
	}
	for _, e := range d.SlotExamples(d.Manners.FirstUnit) {
		all = append(all, Fact{e.What, e.Bytes})
	}
	return append(all, limits(d.Limits)...)
}

func structure(d *profiles.Device) string {
	lines := fmt.Sprintf("%d delay lines", len(d.Lines))
	if len(d.Lines) == 1 {
		lines = "one delay line"
	}
	if len(d.Lines) == 0 {
		return lines
	}
	l := d.Lines[0]
	if n := len(l.Taps); l.Tapped() && n == 1 {
		lines += " with one tap each"
	} else if l.Tapped() {
		lines += fmt.Sprintf(" with %d taps each", n)
	}
	if l.Has(profiles.RoleSource) {
		lines += ", each from a source of its choice"
	}
	return lines + "; " + loop(l)
}

func loop(l profiles.Line) string {
	if !l.Has(profiles.RoleFeedback) {
		return "nothing is fed back"
	}
	place := "before its level"
	if l.Loop.After {
		place = "after its level"
	}
	switch {
	case l.Loop.From == profiles.LoopSum:
		return "the sum of the taps is fed back"
	case l.Loop.From == profiles.LoopTap && l.Loop.Tap == profiles.None:
		return "one tap, by choice, is fed back, " + place
	case l.Loop.From == profiles.LoopTap:
		return l.Taps[l.Loop.Tap].Name + " is fed back, " + place
	}
	return "each line feeds back its own output"
}

func memory(d *profiles.Device) string {
	can := "cannot be read back"
	if d.Readable() {
		can = "can be read back"
	}
	text := fmt.Sprintf("slots %s, %s", span(d.FirstSlot, d.LastSlot), can)
	if d.NameLength > 0 {
		text += fmt.Sprintf(", names of %d characters", d.NameLength)
	}
	return text
}

func manners(m profiles.Manners) string {
	text := fmt.Sprintf("%v of silence after each message", m.Gap)
	if m.Flash > 0 {
		text += fmt.Sprintf(", up to %v for a write to memory", m.Flash)
	}
	if m.Buffer > 0 {
		text += fmt.Sprintf(", an input buffer of %d bytes", m.Buffer)
	}
	return text
}

func limits(l profiles.Limits) []Fact {
	var all []string
	for _, one := range []struct {
		what string
		ms   preset.Millis
	}{{"longest time", l.Longest}, {"all times together", l.Total}, {"least distance", l.Distance}} {
		if one.ms > 0 {
			all = append(all, fmt.Sprintf("%s %s ms", one.what, number(float64(one.ms))))
		}
	}
	if l.Ascending {
		all = append(all, "taps in order of time")
	}
	if len(all) == 0 {
		return nil
	}
	return []Fact{{"limits", strings.Join(all, ", ")}}
}
