package cli

import (
	"fmt"
	"strings"

	"echowright/cmd/internal/ui"
	"echowright/midi"
	"echowright/profiles"
)

// deviceView is what a device can do, for people and for scripts.
type deviceView struct {
	Name       string          `json:"name"`
	Title      string          `json:"title,omitempty"`
	Notes      string          `json:"notes,omitempty"`
	SHA256     string          `json:"sha256"`
	Slots      []int           `json:"slots,omitempty"` // first and last
	Readable   bool            `json:"readable"`
	NameLength int             `json:"name_length"`
	Units      []int           `json:"units"` // first and last unit number
	GapMs      float64         `json:"gap_ms"`
	Buffer     int             `json:"buffer_bytes,omitempty"`
	Lines      []string        `json:"line"`
	Parameters []parameterView `json:"parameter"`
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
}

// byteView is a code of a parameter as it goes over the wire, to hold against the
// manual.
type byteView struct {
	Code    int    `json:"code"`
	Value   any    `json:"value"`
	Message string `json:"message"`
}

func viewDevice(d *profiles.Device) (deviceView, error) {
	v := deviceView{
		Name: d.Name, Title: d.Title, Notes: d.Notes, SHA256: d.SHA256(),
		Readable: d.Readable(), NameLength: d.NameLength,
		Units: []int{d.Manners.FirstUnit, d.Manners.LastUnit},
		GapMs: float64(d.Manners.Gap.Microseconds()) / 1000, Buffer: d.Manners.Buffer,
	}
	if d.HasSlots() || d.Readable() {
		v.Slots = []int{d.FirstSlot, d.LastSlot}
	}
	for _, l := range d.Lines {
		v.Lines = append(v.Lines, l.Name)
	}
	for i := range d.Parameters {
		p, err := viewParameter(d, i)
		if err != nil {
			return v, err
		}
		v.Parameters = append(v.Parameters, p)
	}
	return v, nil
}

func viewParameter(d *profiles.Device, i int) (parameterView, error) {
	p := d.Parameters[i]
	s := p.Scale
	v := parameterView{
		Name: p.Name, Role: string(p.Role), Unit: s.Unit,
		Codes: []int{s.Low, s.High()}, Words: s.Words(),
	}
	if len(v.Words) == 0 {
		low, high := s.Range()
		worst := s.WorstRounding()
		v.Low, v.High, v.WorstRounding = &low, &high, &worst
		if _, ok := s.Silent(); ok {
			v.Words = append(v.Words, profiles.WordSilent)
		}
		if _, ok := s.Off(); ok {
			v.Words = append(v.Words, profiles.WordOff)
		}
	}
	if p.Address == profiles.None {
		return v, nil
	}
	for _, code := range []int{s.Low, (s.Low + s.High()) / 2, s.High()} {
		step, err := d.SetStep(d.Manners.FirstUnit, i, code)
		if err != nil {
			return v, err
		}
		v.Examples = append(v.Examples, byteView{Code: code, Value: told(s.Value(code)), Message: midi.Hex(step.Send)})
	}
	return v, nil
}

func told(v profiles.Value) any {
	if v.Word != "" {
		return v.Word
	}
	return v.Number
}

func (c *call) showDevice(d *profiles.Device) error {
	v, err := viewDevice(d)
	if err != nil {
		return err
	}
	if c.json {
		return ui.JSON(c.out, v)
	}
	c.print("%s", strings.TrimSuffix(v.Name+": "+v.Title, ": "))
	if v.Notes != "" {
		c.print("%s", v.Notes)
	}
	c.print("")
	c.printManners(v)
	own, shared := shownParameters(d, v)
	if len(v.Lines) > 1 {
		c.print("lines     %s: those after %s are set the same way, so only %[2]s is shown", strings.Join(v.Lines, ", "), v.Lines[0])
	}
	c.print("")
	shown := append(own, shared...)
	c.printParameters(shown)
	c.print("")
	c.printBytes(shown)
	return nil
}

func (c *call) printManners(v deviceView) {
	if v.Slots != nil {
		can := "written, not read back"
		if v.Readable {
			can = "written and read back"
		}
		c.print("slots     %d to %d, %s; a name of %d characters", v.Slots[0], v.Slots[1], can, v.NameLength)
	}
	c.print("units     %d to %d", v.Units[0], v.Units[1])
	pace := fmt.Sprintf("%v ms of silence after each message", v.GapMs)
	if v.Buffer > 0 {
		pace += fmt.Sprintf(", a buffer of %d bytes", v.Buffer)
	}
	c.print("manners   %s", pace)
}

// shownParameters are those of the first line, then those that lines share: the
// others only repeat the first line's.
func shownParameters(d *profiles.Device, v deviceView) (own, shared []parameterView) {
	for i, p := range v.Parameters {
		switch line := lineOf(d, i); line {
		case 0:
			own = append(own, p)
		case profiles.None:
			shared = append(shared, p)
		}
	}
	return own, shared
}

func lineOf(d *profiles.Device, parameter int) int {
	role := d.Parameters[parameter].Role
	for n, l := range d.Lines {
		if l.Parameter(role) == parameter {
			return n
		}
	}
	return profiles.None
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
	t.Print(c.out)
}

func (c *call) printBytes(all []parameterView) {
	t := ui.Table{Titles: []string{"parameter", ">code", ">value", "unit", "message to hold against the manual"}}
	for _, p := range all {
		for _, b := range p.Examples {
			if n, ok := b.Value.(float64); ok {
				t.Add(p.Name, b.Code, short(n), p.Unit, b.Message)
			} else {
				t.Add(p.Name, b.Code, b.Value, "", b.Message)
			}
		}
	}
	t.Print(c.out)
}

// short is a number with as many decimals as tell something, three at most.
func short(v float64) string {
	s := strings.TrimRight(ui.Fixed(v, 3), "0")
	return strings.TrimSuffix(s, ".")
}
