package cli

import (
	"fmt"
	"strings"

	"echowright/cmd/internal/ui"
	"echowright/preset"
)

// retimeView is what became of a unit, as scripts get it.
type retimeView struct {
	Name       string         `json:"name"`
	Mode       string         `json:"mode,omitempty"`
	Tempo      *preset.BPM    `json:"bpm,omitempty"`
	Tapped     *preset.Tapped `json:"tap,omitempty"`
	SpeedRatio float64        `json:"speed_ratio"`
	Nearest    *int           `json:"nearest_head,omitempty"`
	Heads      []headView     `json:"head"`
	Warnings   []string       `json:"warnings"`

	unit  preset.Unit
	mains *preset.Mains
	heads []preset.RetimedHead
}

// headView is a head beside what can be noticed of it. Without a tempo there is no
// note to be off.
type headView struct {
	Head       int            `json:"head"`
	Delay      preset.Millis  `json:"delay_ms"`
	Note       *string        `json:"note"`
	Off        *preset.Millis `json:"off_ms"`
	Shift      preset.Millis  `json:"shift_ms"`
	Noticeable preset.Millis  `json:"just_noticeable_ms"`
}

func views(heads []preset.RetimedHead) []headView {
	all := make([]headView, len(heads))
	for i, h := range heads {
		all[i] = headView{Head: h.Head, Delay: h.Delay, Shift: h.Shift, Noticeable: preset.TimingJND(h.Delay)}
		if h.Note != "" {
			all[i].Note, all[i].Off = &h.Note, &h.Off
		}
	}
	return all
}

// take puts a step of retiming behind those before it. Shifts count from where the
// heads were measured.
func (v *retimeView) take(r preset.Retimed) {
	before := v.heads
	v.SpeedRatio *= r.SpeedRatio
	v.unit, v.heads = r.Unit, r.Heads
	for i := range before {
		v.heads[i].Shift += before[i].Shift
	}
}

// judge warns of what no machine would do, and of heads that became one.
func (v *retimeView) judge() {
	if preset.ReachOf(v.SpeedRatio) == preset.ReachNever {
		v.Warnings = append(v.Warnings, fmt.Sprintf("no motor would run this unit at %.2f of its speed: more than %g times faster or slower is beyond "+
			"another pulley or motor; take another note or head, or --mode grid", v.SpeedRatio, preset.SpeedStep))
	}
	if v.Mode != modeGrid {
		return
	}
	for _, s := range (preset.Retimed{Heads: v.heads}).Together() {
		v.Warnings = append(v.Warnings, fmt.Sprintf("heads %s fall on one note value, %s, and become one echo", namedHeads(s.Heads), s.Note))
	}
}

func namedHeads(numbers []int) string {
	words := make([]string, len(numbers))
	for i, n := range numbers {
		words[i] = fmt.Sprint(n)
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " and " + words[last]
}

func (c *call) showRetimed(v retimeView) error {
	for _, w := range v.Warnings {
		c.warn(w)
	}
	if c.json {
		v.Heads = views(v.heads)
		return ui.JSON(c.out, v)
	}
	c.print("%s", v.headline())
	if v.Tapped != nil {
		c.print("tapped: %s BPM, %s ms a beat ± %s ms; %s counted, %d dropped", ui.Fixed(float64(v.Tapped.Tempo), 2), ui.Fixed(float64(v.Tapped.Beat), 1),
			ui.Fixed(float64(v.Tapped.Spread), 1), ui.Count(v.Tapped.Counted, "interval", "intervals"), v.Tapped.Dropped)
	}
	if v.SpeedRatio != 1 {
		c.print("%s", v.speedWords())
	}
	v.table().Print(c.out)
	if tone := v.toneTable(); v.SpeedRatio != 1 && len(tone.Rows) > 0 {
		c.print("")
		tone.Print(c.out)
	}
	return nil
}

func (v *retimeView) headline() string {
	name := v.unit.Name
	if v.mains != nil {
		name += " " + v.mains.String()
	}
	if v.Tempo != nil {
		name += fmt.Sprintf(" at %s BPM", shortBPM(*v.Tempo))
	}
	switch v.Mode {
	case modeGrid:
		return name + ": every head on its own note"
	case modeNearest:
		return fmt.Sprintf("%s: head %d lies nearest to its note", name, *v.Nearest)
	}
	return fmt.Sprintf("%s: running at %.4f of the measured speed (%s %%)", name, v.SpeedRatio, ui.Signed(100*(v.SpeedRatio-1), 2))
}

// shortBPM is a tempo without digits that nobody could set.
func shortBPM(b preset.BPM) string {
	s := ui.Fixed(float64(b), 3)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// speedWords say what the speed takes and what goes along with it.
func (v *retimeView) speedWords() string {
	words := "that is " + map[preset.Reach]string{
		preset.ReachTrim:  "no more than the other mains does to a synchronous motor",
		preset.ReachStep:  "more than the other mains does, and no more than another pulley or motor",
		preset.ReachNever: "what no motor would do",
	}[preset.ReachOf(v.SpeedRatio)]
	m := v.unit.Motion
	if m == nil {
		return words
	}
	if m.SpeedRatio != 0 {
		words += fmt.Sprintf("; %.4f of the nominal speed", m.SpeedRatio)
	}
	for _, w := range []struct {
		name  string
		depth preset.Percent
		rate  preset.Hertz
	}{{"wow", m.WowPercent, m.WowHz}, {"flutter", m.FlutterPercent, m.FlutterHz}} {
		if w.depth != 0 {
			words += fmt.Sprintf("; %s %v at %s Hz", w.name, w.depth, ui.Fixed(float64(w.rate), 2))
		}
	}
	return words
}

// table holds the heads beside their notes, or beside where they were measured:
// whichever can be off.
func (v *retimeView) table() *ui.Table {
	shifts := v.Mode == modeGrid || v.Tempo == nil
	title := ">off ms"
	if shifts {
		title = ">shift ms"
	}
	t := &ui.Table{Titles: []string{">head", ">delay ms", "note", title, ">just noticeable ms", ""}}
	for _, h := range v.heads {
		jnd := preset.TimingJND(h.Delay)
		off, words := h.Off, heard(h.Off, jnd)
		if shifts {
			off, words = h.Shift, moved(h.Shift, jnd)
		}
		if v.Nearest != nil && *v.Nearest == h.Head {
			words += ": the nearest"
		}
		t.Add(h.Head, ui.Fixed(float64(h.Delay), 2), h.Note, ui.Signed(float64(off), 2), ui.Fixed(float64(jnd), 1), words)
	}
	return t
}

// toneTable holds the corners of those heads that have any.
func (v *retimeView) toneTable() *ui.Table {
	t := &ui.Table{Titles: []string{">head", ">low cut Hz", ">high cut Hz"}}
	for _, h := range v.unit.Heads {
		if h.LowCutHz != 0 || h.HighCutHz != 0 {
			t.Add(h.Head, corner(h.LowCutHz, 1), corner(h.HighCutHz, 0))
		}
	}
	return t
}

func corner(at preset.Hertz, decimals int) string {
	if at == 0 {
		return "none"
	}
	return ui.Fixed(float64(at), decimals)
}

// heard is how a time off the note sounds beside what can just be noticed.
func heard(off, jnd preset.Millis) string {
	switch off = max(off, -off); {
	case off == 0:
		return "on the note"
	case off <= jnd:
		return "sounds on the note"
	}
	return fmt.Sprintf("beside the note, %.1f times what can be noticed", float64(off/jnd))
}

// moved is how a shift from the machine's own delay sounds.
func moved(shift, jnd preset.Millis) string {
	switch shift = max(shift, -shift); {
	case shift == 0:
		return "as it was"
	case shift <= jnd:
		return "sounds as it was"
	}
	return fmt.Sprintf("moved by %.1f times what can be noticed", float64(shift/jnd))
}

const bestMeasure = "root mean square over the heads of how far each is off its nearest note, in units of what can just be noticed at its delay (6 ms or 2.5 %)"

// bestView are the tempi that suit a unit, as scripts get them.
type bestView struct {
	Name    string       `json:"name"`
	Measure string       `json:"measure"`
	Tempi   []suitedView `json:"tempo"`
}

type suitedView struct {
	Tempo  preset.BPM `json:"bpm"`
	Misfit float64    `json:"misfit"`
	Heads  []headView `json:"head"`
}

func (c *call) showBest(v bestView, r preset.TempoRange) {
	c.print("tempi from %s to %s BPM that suit %s as it is", shortBPM(r.From), shortBPM(r.To), v.Name)
	c.print("misfit: %s; up to 1 it sounds in time", bestMeasure)
	t := ui.Table{Titles: []string{">BPM", ">misfit", "heads on notes, ms off"}}
	for _, s := range v.Tempi {
		var heads []string
		for _, h := range s.Heads {
			heads = append(heads, fmt.Sprintf("%d on %s %s", h.Head, *h.Note, ui.Signed(float64(*h.Off), 1)))
		}
		t.Add(ui.Fixed(float64(s.Tempo), 2), ui.Fixed(s.Misfit, 2), strings.Join(heads, ", "))
	}
	t.Print(c.out)
}
