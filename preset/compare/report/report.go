// Package report turns what differs between two takes into one page of HTML that
// needs nothing beside itself: no network, no script, light and dark by the
// reader's wish, and every figure of a drawing in a table as well.
package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"

	"echowright/preset"
	"echowright/preset/compare"
)

//go:embed page.html
var pageText string

// Names are what the takes are called on the page; they may hold any text.
type Names struct{ A, B string }

// A page is what the template is filled with.
type page struct {
	Names
	Verdict  string
	Facts    []fact
	Warnings []string
	Traces   *traces
	Echoes   table
	EchoNote string
	Tone     *chart
	ToneRows table
	Decay    table
	Drive    *chart
	Steps    table
}

type fact struct{ Name, Value, Meaning string }

// A table is words in rows; the first of each row is its head.
type table struct {
	Titles []string
	Rows   [][]string
}

// HTML is the page.
func HTML(n Names, r compare.Result) ([]byte, error) {
	t, err := template.New("page").Parse(pageText)
	if err != nil {
		return nil, fmt.Errorf("the report's template: %w", err)
	}
	p := page{
		Names: n, Verdict: verdict(r), Facts: facts(r), Traces: drawTraces(r), Echoes: echoTable(r), EchoNote: echoNote(r),
		Tone: drawTone(r.Tone), ToneRows: toneTable(r.Tone), Decay: decayTable(r),
	}
	for _, w := range r.Warnings {
		p.Warnings = append(p.Warnings, w.String())
	}
	if r.Steps != nil {
		p.Drive, p.Steps = drawDrive(*r.Steps), stepTable(*r.Steps)
	}
	var out bytes.Buffer
	if err := t.Execute(&out, p); err != nil {
		return nil, fmt.Errorf("filling in the report: %w", err)
	}
	return out.Bytes(), nil
}

// verdict is what came out, in a sentence.
func verdict(r compare.Result) string {
	noticed, missing := 0, 0
	for _, e := range r.Echoes {
		switch {
		case e.Missing:
			missing++
		case e.Noticeable():
			noticed++
		}
	}
	switch {
	case r.AtFloor():
		return "Laid on each other, nothing is left of the takes but what rounding to the files' bits leaves."
	case len(r.Echoes) == 0:
		return "No single echoes stand out, so the takes are compared as a whole."
	case noticed+missing == 0:
		return fmt.Sprintf("None of %d echoes differs by as much as can be noticed.", len(r.Echoes))
	}
	words := fmt.Sprintf("Of %d echoes, these differ by as much as can be noticed: %d.", len(r.Echoes), noticed)
	if missing > 0 {
		words += fmt.Sprintf(" Missing in B: %d.", missing)
	}
	return words
}

func facts(r compare.Result) []fact {
	a := r.Alignment
	drift := fact{"Clock of B", "not known", "the takes are too short to tell"}
	if a.Drift != nil {
		drift = fact{"Clock of B", signed(*a.Drift, 2) + spread(a.DriftSD, 2) + " ppm", "the sound lasts so much longer in B"}
	}
	polarity := "same"
	if a.Inverted {
		polarity = "turned over"
	}
	left := fixed(float64(r.Residual), 1) + " dB"
	if r.AtFloor() {
		left = "none (" + left + ", the floor of the format)"
	}
	return []fact{
		{"Offset of B", signed(float64(a.Offset), 4) + spread(float64(a.OffsetSD), 4) + " ms", "the sound comes so much later in B; taken out"},
		{"Level of B", signed(float64(a.Gain), 2) + spread(float64(a.GainSD), 2) + " dB", "where both hold the same sound; taken out"},
		{"Polarity of B", polarity, "taken out"},
		drift,
		{"Left over", left, "of A when B is taken from it: the null"},
	}
}

func echoNote(r compare.Result) string {
	if r.From == compare.Measured {
		return "From the units that were measured of both takes; levels to the direct sound, at 1 kHz."
	}
	return "From the response to the direct sound, each echo with the same stretch of B; levels to the direct sound."
}

func echoTable(r compare.Result) table {
	t := table{Titles: []string{"Echo", "Time in A, ms", "Level in A, dB", "B later by, ms", "noticed from, ms", "B louder by, dB", "noticed from, dB", "Judged"}}
	for i, e := range r.Echoes {
		row := []string{label(i, e), fixed(float64(e.At), 2), fixed(float64(e.Level), 1)}
		if e.Missing {
			t.Rows = append(t.Rows, append(row, "–", fixed(float64(e.TimingJND()), 1), "–", fixed(float64(compare.LevelJND), 1), "missing in B"))
			continue
		}
		judged := "not noticed"
		if e.Noticeable() {
			judged = "can be noticed"
		}
		t.Rows = append(t.Rows, append(row,
			signed(float64(e.Delta), 2)+spread(float64(e.DeltaSD), 2), fixed(float64(e.TimingJND()), 1),
			signed(float64(e.DeltaDB), 2)+spread(float64(e.DeltaDBSD), 2), fixed(float64(compare.LevelJND), 1), judged))
	}
	return t
}

// label names an echo: by its head and turn where they are known, else by number.
func label(i int, e compare.Echo) string {
	switch {
	case e.Head == 0:
		return strconv.Itoa(i + 1)
	case e.Turn == 0:
		return "head " + strconv.Itoa(e.Head)
	}
	return "head " + strconv.Itoa(e.Head) + ", turn " + strconv.Itoa(e.Turn)
}

func toneTable(bands []compare.Band) table {
	t := table{Titles: []string{"Band, Hz", "Level in A, dB", "B louder by, dB"}}
	for _, b := range bands {
		t.Rows = append(t.Rows, []string{nominal(b.Centre), fixed(float64(b.Level), 1), signed(float64(b.Delta), 2) + spread(float64(b.DeltaSD), 2)})
	}
	return t
}

// nominal is what a band is called after its centre (IEC 61260-1): 1, 1.25, 1.6 …
// times a power of ten.
func nominal(f preset.Hertz) string {
	called := [...]float64{1, 1.25, 1.6, 2, 2.5, 3.15, 4, 5, 6.3, 8}
	k := int(math.Round(10 * math.Log10(math.Max(float64(f), 1))))
	name := called[k%10] * math.Pow(10, float64(k/10))
	return strings.TrimSuffix(fixed(name, 1), ".0")
}

func decayTable(r compare.Result) table {
	t := table{Titles: []string{"", "A", "B"}}
	if d := r.Decay; d != nil {
		t.Rows = append(t.Rows, []string{"lost in a second, dB", fixed(d.A, 1), fixed(d.B, 1)})
	}
	if r.UnitA != nil && r.UnitA.Feedback != nil && r.UnitB != nil && r.UnitB.Feedback != nil {
		a, b := r.UnitA.Feedback, r.UnitB.Feedback
		t.Rows = append(t.Rows, []string{"one turn of the loop, dB", fixed(float64(a.Gain), 2) + spread(float64(a.GainSD), 2), fixed(float64(b.Gain), 2) + spread(float64(b.GainSD), 2)})
	}
	return t
}

func stepTable(s compare.Steps) table {
	t := table{Titles: []string{"In, dBFS", "Gain of A, dB", "Gain of B, dB", "Harmonics of A, %", "Harmonics of B, %", "Upper to lower peak of A, dB", "of B, dB"}}
	for _, p := range s.Steps {
		t.Rows = append(t.Rows, []string{
			fixed(float64(p.In), 1), signed(float64(p.GainA), 2), signed(float64(p.GainB), 2),
			fixed(float64(p.THDA), 2), fixed(float64(p.THDB), 2), signed(float64(p.PeaksA), 2), signed(float64(p.PeaksB), 2),
		})
	}
	return t
}

func spread(sd float64, decimals int) string {
	words := fixed(sd, decimals)
	if strings.Trim(words, "0.") == "" { // not known, or nothing at so many decimals
		return ""
	}
	return " ± " + words
}

// fixed writes a number with a true minus, and never −0.
func fixed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return strings.ReplaceAll(s, "-", "−")
}

func signed(v float64, decimals int) string {
	s := fixed(v, decimals)
	if v > 0 && strings.Trim(s, "0.") != "" {
		return "+" + s
	}
	return s
}
