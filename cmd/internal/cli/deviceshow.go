package cli

import (
	"fmt"
	"strings"

	"echowright/cmd/internal/ui"
	"echowright/profiles"
)

// deviceView is what a device can do, for people and for scripts.
type deviceView struct {
	Name       string                 `json:"name"`
	Title      string                 `json:"title,omitempty"`
	Notes      string                 `json:"notes,omitempty"`
	SHA256     string                 `json:"sha256"`
	Slots      []int                  `json:"slots,omitempty"` // first and last
	Readable   bool                   `json:"readable"`
	NameLength int                    `json:"name_length"`
	Units      []int                  `json:"units"` // first and last unit number, or channel
	ByChannel  bool                   `json:"by_channel"`
	GapMs      float64                `json:"gap_ms"`
	Buffer     int                    `json:"buffer_bytes,omitempty"`
	Lines      []string               `json:"line"`
	Taps       []string               `json:"tap,omitempty"` // of each line
	Loop       string                 `json:"loop,omitempty"`
	Parameters []parameterView        `json:"parameter"`
	Abilities  []profiles.Ability     `json:"ability"`
	Holes      []profiles.Hole        `json:"hole"`
	Slot       []profiles.SlotExample `json:"slot_message,omitempty"`
}

type parameterView struct {
	Name          string     `json:"parameter"`
	Role          string     `json:"role"`
	Unit          string     `json:"unit"`
	Codes         []int      `json:"codes"` // least and greatest
	Low           *float64   `json:"low,omitempty"`
	High          *float64   `json:"high,omitempty"`
	WorstRounding *float64   `json:"worst_rounding,omitempty"`
	Words         []string   `json:"words,omitempty"` // choices, or "silent" and "off" where there are
	Examples      []byteView `json:"bytes,omitempty"`

	alike bool // set as an earlier one is, only in another line or tap
}

// byteView is a code of a parameter as it goes over the wire, to hold against the
// manual.
type byteView struct {
	Code    int    `json:"code"`
	Value   any    `json:"value"`
	Unit    string `json:"unit,omitempty"`
	Message string `json:"message"` // "" where it cannot be sent alone
	Problem string `json:"problem,omitempty"`
}

func viewDevice(d *profiles.Device) deviceView {
	m := d.Manners
	v := deviceView{
		Name: d.Name, Title: d.Title, Notes: d.Notes, SHA256: d.SHA256(),
		Readable: d.Readable(), NameLength: d.NameLength,
		Units: []int{m.FirstUnit, m.LastUnit}, ByChannel: m.ByChannel,
		GapMs: float64(m.Gap.Microseconds()) / 1000, Buffer: m.Buffer,
		Abilities: listOrEmpty(d.Abilities()), Holes: listOrEmpty(d.Holes()), Slot: d.SlotExamples(d.Manners.FirstUnit),
		Loop: loopWords(d),
	}
	if d.HasSlots() || d.Readable() {
		v.Slots = []int{d.FirstSlot, d.LastSlot}
	}
	for _, l := range d.Lines {
		v.Lines = append(v.Lines, l.Name)
	}
	if d.Lines[0].Tapped() {
		for _, t := range d.Lines[0].Taps {
			v.Taps = append(v.Taps, t.Name)
		}
	}
	examples := map[string][]byteView{}
	for _, e := range d.Examples(m.FirstUnit) {
		examples[e.Parameter] = append(examples[e.Parameter], byteView{e.Code, e.Value, e.Unit, e.Hex, e.Problem})
	}
	for _, p := range d.Parameters {
		view := viewParameter(p)
		view.Examples = examples[p.Name]
		view.alike = repeats(d, p)
		v.Parameters = append(v.Parameters, view)
	}
	return v
}

func viewParameter(p profiles.Parameter) parameterView {
	s := p.Scale
	v := parameterView{
		Name: p.Name, Role: string(p.Role), Unit: s.Unit,
		Codes: []int{s.Low, s.High()}, Words: s.Words(),
	}
	if len(v.Words) > 0 {
		return v
	}
	low, high := s.Range()
	worst := s.WorstRounding()
	v.Low, v.High, v.WorstRounding = &low, &high, &worst
	if _, ok := s.Silent(); ok {
		v.Words = append(v.Words, profiles.WordSilent)
	}
	if _, ok := s.Off(); ok {
		v.Words = append(v.Words, profiles.WordOff)
	}
	return v
}

// repeats reports whether the parameter is what the first line, or the first tap,
// has too.
func repeats(d *profiles.Device, p profiles.Parameter) bool {
	model, _ := inFirst(p.Name, d.Lines, func(l profiles.Line) string { return l.Name })
	first := d.Lines[0].Name + "-"
	inside, ofLine := strings.CutPrefix(model, first)
	if inside, moved := inFirst(inside, d.Lines[0].Taps, func(t profiles.Tap) string { return t.Name }); moved && d.Lines[0].Tapped() {
		model = inside
		if ofLine {
			model = first + inside
		}
	}
	i := d.Parameter(model)
	return model != p.Name && i != profiles.None && d.Parameters[i].Scale == p.Scale && d.Parameters[i].Role == p.Role
}

// inFirst is a name that begins with that of a line or tap, as it is in the first
// of them.
func inFirst[T any](name string, all []T, of func(T) string) (string, bool) {
	for _, one := range all {
		if rest, ok := strings.CutPrefix(name, of(one)+"-"); ok {
			return of(all[0]) + "-" + rest, true
		}
	}
	return name, false
}

// loopWords is what a line feeds back, "" for nothing.
func loopWords(d *profiles.Device) string {
	l := d.Lines[0]
	if !l.Has(profiles.RoleFeedback) {
		return ""
	}
	words := map[profiles.LoopFrom]string{
		profiles.LoopLine: "each line's own output", profiles.LoopSum: "the sum of the taps", profiles.LoopTap: "one tap, chosen by " + string(profiles.RoleFeedbackTap),
	}[l.Loop.From]
	if l.Loop.From == profiles.LoopTap && l.Loop.Tap != profiles.None {
		words = l.Taps[l.Loop.Tap].Name
	}
	if l.Loop.From != profiles.LoopLine {
		words += map[bool]string{false: ", before its level", true: ", after its level"}[l.Loop.After]
	}
	if !l.Has(profiles.RoleHighCut) && !l.Has(profiles.RoleLowCut) {
		return words
	}
	return words + map[profiles.ToneAt]string{
		profiles.ToneMemory: "; cuts at the memory's input", profiles.ToneLoop: "; cuts in the loop alone", profiles.ToneOutput: "; cuts at the output",
	}[l.Loop.Tone]
}

func (c *call) showDevice(d *profiles.Device) error {
	v := viewDevice(d)
	if c.json {
		return ui.JSON(c.out, v)
	}
	c.print("%s", strings.TrimSuffix(v.Name+": "+v.Title, ": "))
	if v.Notes != "" {
		c.print("%s", v.Notes)
	}
	c.print("")
	c.printManners(v)
	c.printStructure(v)
	c.print("")
	c.printAbilities(v.Abilities)
	shown := shownParameters(v)
	c.print("")
	c.printParameters(shown)
	c.print("")
	c.printBytes(shown)
	c.printSlotBytes(v.Slot)
	c.printHoles(v.Holes)
	return nil
}

func (c *call) printManners(v deviceView) {
	if v.Slots != nil {
		can := "written, not read back"
		if v.Readable {
			can = "written and read back"
		}
		if v.NameLength > 0 {
			can += fmt.Sprintf("; a name of %d characters", v.NameLength)
		}
		c.print("slots     %d to %d, %s", v.Slots[0], v.Slots[1], can)
	}
	what := "units   "
	if v.ByChannel {
		what = "channels"
	}
	c.print("%s  %d to %d", what, v.Units[0], v.Units[1])
	pace := fmt.Sprintf("%v ms of silence after each message", v.GapMs)
	if v.Buffer > 0 {
		pace += fmt.Sprintf(", a buffer of %d bytes", v.Buffer)
	}
	c.print("manners   %s", pace)
}

func (c *call) printStructure(v deviceView) {
	const same = "%-8s  %s: those after %s are set the same way, so only %[3]s is shown"
	if len(v.Lines) > 1 {
		c.print(same, "lines", strings.Join(v.Lines, ", "), v.Lines[0])
	}
	if len(v.Taps) > 1 {
		c.print(same, "taps", strings.Join(v.Taps, ", "), v.Taps[0])
	}
	if v.Loop != "" {
		c.print("fed back  %s", v.Loop)
	}
}

// shownParameters are those of the first line and the first tap, then those that
// lines share: the others only repeat them.
func shownParameters(v deviceView) []parameterView {
	var all []parameterView
	for _, p := range v.Parameters {
		if !p.alike {
			all = append(all, p)
		}
	}
	return all
}

func (c *call) printParameters(all []parameterView) {
	t := ui.Table{Titles: []string{"parameter", ">codes", ">from", ">to", "unit", ">worst rounding", "and"}}
	for _, p := range all {
		codes := fmt.Sprintf("%d-%d", p.Codes[0], p.Codes[1])
		if p.Low == nil {
			t.Add(p.Name, codes, "", "", "", "", strings.Join(p.Words, ", "))
			continue
		}
		t.Add(p.Name, codes, short(*p.Low), short(*p.High), p.Unit, short(*p.WorstRounding), strings.Join(p.Words, ", "))
	}
	c.printTable(t)
}

func (c *call) printBytes(all []parameterView) {
	t := ui.Table{Titles: []string{"parameter", ">code", ">value", "unit", "message to hold against the manual"}}
	for _, p := range all {
		for _, b := range p.Examples {
			message := b.Message
			switch {
			case b.Problem != "":
				message = b.Problem
			case message == "":
				message = "cannot be sent alone"
			}
			value := fmt.Sprint(b.Value)
			if n, ok := b.Value.(float64); ok {
				value = short(n)
			}
			t.Add(p.Name, b.Code, value, b.Unit, message)
		}
	}
	c.printTable(t)
}

// short is a number with as many decimals as tell something, three at most.
func short(v float64) string {
	s := strings.TrimRight(ui.Fixed(v, 3), "0")
	return strings.TrimSuffix(s, ".")
}

// printSlotBytes shows how slots are loaded, stored and asked for.
func (c *call) printSlotBytes(all []profiles.SlotExample) {
	if len(all) == 0 {
		return
	}
	c.print("")
	t := ui.Table{Titles: []string{"slots", "message to hold against the manual"}}
	for _, e := range all {
		t.Add(e.What, e.Bytes)
	}
	c.printTable(t)
}
