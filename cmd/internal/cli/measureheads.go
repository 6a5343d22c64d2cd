package cli

import (
	"fmt"
	"math"

	"echowright/cmd/internal/ui"
	"echowright/preset"
	"echowright/preset/measure/response"
	"echowright/preset/measure/sweep"
	"echowright/preset/signals"
)

// shownHarmonics is the fundamental at which the table tells harmonics: low enough
// for the fifth to pass a dull head.
const shownHarmonics preset.Hertz = 400

// tableOctaves from 62.5 Hz to 8 kHz are told of each head's tone.
const tableOctaves = 8

func (c *call) showHeads(u preset.Unit, kind signals.Kind, m headsResult) {
	c.print("%s", headsLine(u, kind))
	c.print("")
	c.printHeads(u)
	c.print("")
	c.printTones(u, m.Ways)
	if len(m.harmonics) > 0 {
		c.print("")
		c.printHarmonics(u, m.harmonics)
	}
	if n := len(m.Later); n > 0 {
		c.print("")
		c.print("%s after the last head, from %s ms on: repeats", ui.Count(n, "arrival", "arrivals"), ui.Fixed(float64(m.Later[0].After), 1))
	}
}

// headsLine is what was found in a sentence.
func headsLine(u preset.Unit, kind signals.Kind) string {
	return fmt.Sprintf("%s: %s%s; %s tells nothing of the loop", u.Name, headSpan(u), directWords(u), takeOf(kind))
}

// printTones shows the level of each head at each octave, to that at 1 kHz.
func (c *call) printTones(u preset.Unit, ways []response.Way) {
	t := ui.Table{Titles: []string{">tone: Hz"}}
	measured := measuredHeads(u)
	for _, n := range measured {
		t.Titles = append(t.Titles, fmt.Sprintf(">head %d dB", n))
	}
	for octave := range tableOctaves {
		f := preset.Hertz(62.5 * math.Exp2(float64(octave)))
		row := []any{ui.Fixed(float64(f), 0)}
		for k := range measured {
			row = append(row, levelAt(ways[k], f))
		}
		t.Add(row...)
	}
	c.printTable(t)
}

// levelAt is the level of the point of the curve at f, "–" where it ends before.
func levelAt(w response.Way, f preset.Hertz) string {
	for _, p := range w.Curve {
		if math.Abs(math.Log2(float64(p.Hz/f))) < 1./24 {
			return ui.Signed(float64(p.Level-w.Level), 1)
		}
	}
	return "–"
}

func (c *call) printHarmonics(u preset.Unit, all []sweep.Distortion) {
	t := ui.Table{Titles: []string{fmt.Sprintf("harmonics of %v", shownHarmonics), ">2nd %", ">3rd %", ">4th %", ">5th %"}}
	for k, n := range measuredHeads(u) {
		row := []any{fmt.Sprintf("head %d", n)}
		for _, d := range all {
			if d.Way != k {
				continue
			}
			cell := "–"
			if level, ok := d.At(shownHarmonics); ok {
				cell = ui.Fixed(100*level.Amplitude(), 2)
			}
			if d.Covered {
				cell = "covered"
			}
			row = append(row, cell)
		}
		t.Add(row...)
	}
	c.printTable(t)
}

// measuredHeads are the numbers of the heads that were not inferred: the ways of a
// result are theirs, in their order.
func measuredHeads(u preset.Unit) (all []int) {
	for _, h := range u.Heads {
		if !h.Inferred {
			all = append(all, h.Head)
		}
	}
	return all
}

// headsView is what scripts get of a sweep or of clicks: the unit, and under the
// signal's name what it shows besides.
type headsView struct {
	measured
	Sweep  *responseView `json:"sweep,omitempty"`
	Clicks *responseView `json:"clicks,omitempty"`
}

type responseView struct {
	Ways      []wayView          `json:"way"`
	Later     []response.Arrival `json:"later"` // after the last head: repeats
	Harmonics []harmonicView     `json:"harmonic,omitempty"`
}

type wayView struct {
	Head int `json:"head"`
	response.Way
}

type harmonicView struct {
	Head  int              `json:"head"`
	Order int              `json:"order"`
	Curve []sweep.Harmonic `json:"curve"`
}

func viewHeads(u preset.Unit, kind signals.Kind, m headsResult) headsView {
	numbers := measuredHeads(u)
	r := &responseView{Later: append([]response.Arrival{}, m.Later...)}
	for k, w := range m.Ways {
		r.Ways = append(r.Ways, wayView{numbers[k], w})
	}
	for _, d := range m.harmonics {
		r.Harmonics = append(r.Harmonics, harmonicView{numbers[d.Way], d.Order, append([]sweep.Harmonic{}, d.Curve...)})
	}
	v := headsView{measured: unitView(u, m.Warnings)}
	if kind == signals.KindClicks {
		v.Clicks = r
	} else {
		v.Sweep = r
	}
	return v
}
