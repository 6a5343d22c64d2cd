package cli

import (
	"fmt"
	"io"
	"path/filepath"
	"time"

	"echowright/cmd/internal/ui"
	"echowright/preset"
	"echowright/preset/measure"
)

// measured is the unit profile as scripts get it. Origin's day is a day there as
// it is in the file.
type measured struct {
	preset.Unit
	Origin   *originView `json:"origin,omitempty"`
	Warnings []string    `json:"warnings"`
}

type originView struct {
	Take       string `json:"take,omitempty"`
	TakeSHA256 string `json:"take_sha256,omitempty"`
	Measured   string `json:"measured,omitempty"`
}

func unitView(u preset.Unit, warnings []measure.Warning) measured {
	return measured{Unit: u, Origin: viewOrigin(u.Origin), Warnings: warningWords(warnings)}
}

// warningWords are never nil: scripts get a list.
func warningWords(all []measure.Warning) []string {
	words := []string{}
	for _, w := range all {
		words = append(words, w.String())
	}
	return words
}

// origin is where figures come from that make no unit by themselves.
func (r *recording) origin(now time.Time) (originView, error) {
	sum, err := r.sum()
	return originView{Take: filepath.Base(r.path), TakeSHA256: sum, Measured: day(now).Format(time.DateOnly)}, err
}

// measuredNotes is the unit profile, and what each of several notes tells.
type measuredNotes struct {
	measured
	Notes []noteView `json:"note,omitempty"`
}

type noteView struct {
	Onset    preset.Millis    `json:"onset_ms"` // from the start of the take
	Heads    []preset.Head    `json:"head"`
	Feedback *preset.Feedback `json:"feedback,omitempty"`
}

func viewNotes(u preset.Unit, m measure.Result, warnings []measure.Warning) measuredNotes {
	v := measuredNotes{measured: unitView(u, warnings)}
	if len(m.Notes) > 1 {
		for _, n := range m.Notes {
			v.Notes = append(v.Notes, noteView(n))
		}
	}
	return v
}

func viewOrigin(o *preset.Origin) *originView {
	if o == nil {
		return nil
	}
	v := &originView{Take: o.Take, TakeSHA256: o.TakeSHA256}
	if !o.Measured.IsZero() {
		v.Measured = o.Measured.Format(time.DateOnly)
	}
	return v
}

// day is the date on the wall where the program runs, as a unit file keeps it.
func day(now time.Time) time.Time {
	y, m, d := now.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

func (c *call) showMeasured(u preset.Unit, samples []float64, rate preset.Hertz, m measure.Result) {
	c.print("%s", oneLine(u))
	c.print("")
	if c.out.Terminal() {
		io.WriteString(c.out, ui.Drawing(drawn(samples, rate, m), min(c.out.Width-1, 100)))
		c.print("")
	}
	c.printHeads(u)
	if len(m.Notes) > 1 {
		c.print("")
		c.printNotes(m.Notes)
	}
}

// printNotes shows the notes beside each other: what is constant, what moves.
func (c *call) printNotes(notes []measure.Note) {
	t := ui.Table{Titles: []string{">note at s"}}
	for _, h := range notes[0].Heads {
		t.Titles = append(t.Titles, fmt.Sprintf(">head %d ms", h.Head), ">dB")
	}
	for _, n := range notes {
		row := []any{ui.Fixed(n.Onset.Seconds(), 2)}
		for _, h := range n.Heads {
			row = append(row, ui.Fixed(float64(h.Delay), 2), ui.Fixed(float64(h.Level), 2))
		}
		t.Add(row...)
	}
	c.printTable(t)
}

// oneLine is a unit in a sentence.
func oneLine(u preset.Unit) string {
	s := u.Name + ": " + headSpan(u)
	if f := u.Feedback; f != nil {
		s += fmt.Sprintf(", loop from %s at %s dB a turn", headList(f.Heads), ui.PlusMinus(float64(f.Gain), float64(f.GainSD), 1))
	} else {
		s += ", no loop"
	}
	return s + directWords(u)
}

// headSpan says how many heads a unit has, and from where to where.
func headSpan(u preset.Unit) string {
	s := ui.Count(len(u.Heads), "head", "heads")
	if n := len(u.Heads); n > 1 {
		s += fmt.Sprintf(" from %s to %s ms", ui.Fixed(float64(u.Heads[0].Delay), 2), ui.Fixed(float64(u.Heads[n-1].Delay), 2))
	} else if n == 1 {
		s += fmt.Sprintf(" at %s ms", ui.Fixed(float64(u.Heads[0].Delay), 2))
	}
	if n := len(u.Heads) - len(measuredHeads(u)); n > 0 {
		s += fmt.Sprintf(" (%d of them inferred)", n)
	}
	return s
}

func directWords(u preset.Unit) string {
	if u.Direct == nil {
		return ""
	}
	return fmt.Sprintf(", loudest head %s dB to the direct sound", ui.Signed(float64(u.Direct.EchoToDirect), 1))
}

func headList(heads []int) string {
	if len(heads) == 1 {
		return fmt.Sprintf("head %d", heads[0])
	}
	return fmt.Sprintf("heads %s", joined(heads))
}

func (c *call) printHeads(u preset.Unit) {
	t := ui.Table{Titles: []string{">head", ">delay ms", ">level dB", "polarity", ">low cut Hz", ">high cut Hz"}}
	inferred := len(measuredHeads(u)) < len(u.Heads)
	if inferred {
		t.Titles = append(t.Titles, "known by")
	}
	for _, h := range u.Heads {
		polarity := "normal"
		if h.Inverted {
			polarity = "inverted"
		}
		row := []any{h.Head, ui.PlusMinus(float64(h.Delay), float64(h.DelaySD), 2), ui.PlusMinus(float64(h.Level), float64(h.LevelSD), 2),
			polarity, cut(h.LowCutHz), cut(h.HighCutHz)}
		switch {
		case h.Inferred:
			row = append(row, "inferred")
		case inferred:
			row = append(row, "measured")
		}
		t.Add(row...)
	}
	c.printTable(t)
}

func cut(f preset.Hertz) string {
	if f == 0 {
		return "none"
	}
	return ui.Fixed(float64(f), 0)
}
