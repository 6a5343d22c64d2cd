package cli

import (
	"fmt"
	"math"

	"echowright/cmd/internal/ui"
	"echowright/profiles"
	"echowright/profiles/arrange"
)

// mostShown is how many echoes a table shows: the later they are the softer, and --json
// has them all.
const mostShown = 24

func (c *call) showPlan(p planned) {
	c.print("%s on %s: %s", p.unit.Name, p.device.Name, verdict(p))
	c.print("")
	c.showEchoes(p.Result)
	c.print("")
	c.showSetting(p.device, p.Setting)
}

// verdict is the plan in a sentence.
func verdict(p planned) string {
	missing, ms, db := worst(p.Echoes)
	s := fmt.Sprintf("%s wanted", ui.Count(len(p.Echoes), "echo", "echoes"))
	switch {
	case missing == len(p.Echoes):
		s += ", none to be had"
	case missing > 0:
		s += fmt.Sprintf(", %d not to be had, the others within %s ms and %s dB", missing, ui.Fixed(ms, 2), ui.Fixed(db, 2))
	default:
		s += fmt.Sprintf(", all to be had within %s ms and %s dB", ui.Fixed(ms, 2), ui.Fixed(db, 2))
	}
	if len(p.Extra) > 0 {
		s += fmt.Sprintf(", %d unasked", len(p.Extra))
	}
	return s + fmt.Sprintf("; pattern error %s dB", ui.Fixed(float64(p.Error), 1))
}

// worst counts what is missing and finds the greatest distances of what is not.
func worst(echoes []arrange.Echo) (missing int, ms, db float64) {
	for _, e := range echoes {
		if e.GotAt == nil || e.GotLevel == nil {
			missing++
			continue
		}
		ms = max(ms, math.Abs(float64(*e.GotAt-e.At)))
		db = max(db, math.Abs(float64(*e.GotLevel-e.Level)))
	}
	return missing, ms, db
}

func (c *call) showEchoes(r arrange.Result) {
	t := ui.Table{Titles: []string{">wanted ms", ">dB", ">got ms", ">dB", ">off ms", ">off dB"}}
	for _, e := range r.Echoes[:min(len(r.Echoes), mostShown)] {
		at, level := ui.Fixed(float64(e.At), 2), ui.Fixed(float64(e.Level), 2)
		if e.GotAt == nil || e.GotLevel == nil {
			t.Add(at, level, "missing", "", "", "")
			continue
		}
		t.Add(at, level, ui.Fixed(float64(*e.GotAt), 2), ui.Fixed(float64(*e.GotLevel), 2),
			ui.Signed(float64(*e.GotAt-e.At), 2), ui.Signed(float64(*e.GotLevel-e.Level), 2))
	}
	for _, e := range r.Extra[:min(len(r.Extra), mostShown)] {
		t.Add("unasked", "", ui.Fixed(float64(e.At), 2), ui.Fixed(float64(e.Level), 2), "", "")
	}
	t.Print(c.out)
	if rest := max(0, len(r.Echoes)-mostShown) + max(0, len(r.Extra)-mostShown); rest > 0 {
		c.print("… and %d more: --json has them all", rest)
	}
}

// showSetting shows the lines, or the taps, side by side, then what they share.
func (c *call) showSetting(d *profiles.Device, s profiles.Setting) {
	rows := d.Rows(s)
	if s.Name != "" {
		c.print("slot name: %s", s.Name)
	}
	what, groups := groupsOf(d)
	t := ui.Table{Titles: []string{what}}
	alike := map[int]bool{}
	for n, g := range groups {
		cells := []any{g.name}
		for _, i := range g.parameters {
			cells, alike[i] = append(cells, value(rows[i])), true
			if n == 0 {
				t.Titles = append(t.Titles, ">"+titled(d.Parameters[i]))
			}
		}
		t.Add(cells...)
	}
	t.Print(c.out)
	for i, r := range rows {
		if !alike[i] {
			c.print("%s: %s", r.Parameter, withUnit(r))
		}
	}
}

// A group is the parameters of one line or of one tap.
type group struct {
	name       string
	parameters []int
}

// groupsOf is what a device has several of: taps where lines are read by taps, else
// lines. What all of them share belongs to none.
func groupsOf(d *profiles.Device) (what string, groups []group) {
	what = "line"
	for _, l := range d.Lines {
		if !l.Tapped() {
			groups = append(groups, group{l.Name, own(d, l.Parameter, d.Lines)})
			continue
		}
		what = "tap"
		for _, t := range l.Taps {
			name := t.Name
			if len(d.Lines) > 1 {
				name = l.Name + " " + name
			}
			groups = append(groups, group{name, own(d, t.Parameter, nil)})
		}
	}
	return what, groups
}

// own lists the parameters that of has for any role and that not all lines share.
func own(d *profiles.Device, of func(profiles.Role) int, lines []profiles.Line) []int {
	var all []int
	for i, p := range d.Parameters {
		shared := len(lines) > 1 && lines[0].Parameter(p.Role) == i && lines[1].Parameter(p.Role) == i
		if of(p.Role) == i && !shared {
			all = append(all, i)
		}
	}
	return all
}

func titled(p profiles.Parameter) string {
	if p.Scale.Unit == "" {
		return string(p.Role)
	}
	return string(p.Role) + " " + p.Scale.Unit
}

func value(r profiles.Row) string {
	if n, ok := r.Value.(float64); ok {
		return short(n)
	}
	return fmt.Sprint(r.Value)
}

func withUnit(r profiles.Row) string {
	if r.Unit == "" {
		return value(r)
	}
	return value(r) + " " + r.Unit
}
