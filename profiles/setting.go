package profiles

import (
	"fmt"
	"strings"
)

// A Setting is one code for each parameter of a device, in the order of its
// Parameters, and the name of the slot.
type Setting struct {
	Codes []int
	Name  string
}

// A Row is one parameter of a setting in musical terms.
type Row struct {
	Parameter string `json:"parameter"`
	Value     any    `json:"value"` // a number, or a word for a choice, a note value, "silent", "off"
	Unit      string `json:"unit"`
	Code      int    `json:"code"`
}

// Rest is the setting in which everything is at rest: silent or out of the way.
func (d *Device) Rest() Setting {
	s := Setting{Codes: make([]int, len(d.Parameters))}
	for i, p := range d.Parameters {
		s.Codes[i] = p.Rest
	}
	return s
}

// Clone is a copy that shares nothing.
func (s Setting) Clone() Setting {
	return Setting{Codes: append([]int(nil), s.Codes...), Name: s.Name}
}

// Check reports the first parameter whose code the device does not have, and
// what breaks the device's limits.
func (d *Device) Check(s Setting) error {
	if len(s.Codes) != len(d.Parameters) {
		return fmt.Errorf("setting has %d codes: device %q has %d parameters", len(s.Codes), d.Name, len(d.Parameters))
	}
	for i, p := range d.Parameters {
		switch code := s.Codes[i]; {
		case p.Scale.Holds(code):
		case code >= p.Scale.Low && code <= p.Scale.High():
			return fmt.Errorf("%s: code %d means nothing to device %q", p.Name, code, d.Name)
		default:
			return fmt.Errorf("%s: code %d: device %q takes %d to %d", p.Name, code, d.Name, p.Scale.Low, p.Scale.High())
		}
	}
	for i := range len(s.Name) {
		if c := s.Name[i]; c < 0x20 || c > 0x7E {
			return fmt.Errorf("name %q: only printable ASCII characters go into a device", s.Name)
		}
	}
	if len(s.Name) > d.NameLength {
		return fmt.Errorf("name %q: %d characters at most", s.Name, d.NameLength)
	}
	return d.checkTimes(s)
}

// Rows is the setting in musical terms. The setting must pass Check.
func (d *Device) Rows(s Setting) []Row {
	rows := make([]Row, len(d.Parameters))
	for i, p := range d.Parameters {
		rows[i] = p.row(s.Codes[i])
	}
	return rows
}

func (p Parameter) row(code int) Row {
	r := Row{Parameter: p.Name, Unit: p.Scale.Unit, Code: code}
	v := p.Scale.Value(code)
	switch note := p.Scale.Note(code); {
	case v.Word != "":
		r.Value, r.Unit = v.Word, ""
	case note != "":
		r.Value, r.Unit = note, ""
	case v.Inverted:
		r.Value, r.Unit = v.Number, r.Unit+" inverted"
	default:
		r.Value = v.Number
	}
	return r
}

// A Difference is a parameter that holds something else than it should.
type Difference struct {
	Parameter string `json:"parameter"`
	Was       any    `json:"was"`
	Is        any    `json:"is"`
	Unit      string `json:"unit,omitempty"`
}

// Differences lists the parameters, and the name, in which two settings of the
// device differ.
func (d *Device) Differences(was, is Setting) []Difference {
	var all []Difference
	for i, p := range d.Parameters {
		if was.Codes[i] != is.Codes[i] {
			all = append(all, Difference{Parameter: p.Name, Was: p.told(was.Codes[i]), Is: p.told(is.Codes[i]), Unit: p.Scale.Unit})
		}
	}
	if was.Name != is.Name {
		all = append(all, Difference{Parameter: "name", Was: was.Name, Is: is.Name})
	}
	return all
}

func (p Parameter) told(code int) any {
	if !p.Scale.Holds(code) {
		return fmt.Sprintf("code %d", code)
	}
	return p.row(code).Value
}

// FitName is name made to fit the slot: only printable ASCII, cut to length.
func (d *Device) FitName(name string) string {
	fit := strings.Map(func(r rune) rune {
		if r < 0x20 || r > 0x7E {
			return '-'
		}
		return r
	}, name)
	return strings.TrimRight(fit[:min(len(fit), d.NameLength)], " ")
}
