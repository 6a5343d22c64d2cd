package profiles

import (
	"echowright/midi"
)

// An Ability is what the device can do with one kind of its parameters, in
// musical terms. Steps are between neighbouring codes, in Unit.
type Ability struct {
	Role       Role    `json:"role"`
	Parameter  string  `json:"parameter"` // the first of its kind
	Count      int     `json:"count"`     // how many there are of that kind
	Unit       string  `json:"unit"`
	Least      float64 `json:"least"`
	Greatest   float64 `json:"greatest"`
	Narrowest  float64 `json:"narrowest_step"`
	Widest     float64 `json:"widest_step"`
	Rounding   float64 `json:"worst_rounding"` // half of the widest step
	Of         string  `json:"of,omitempty"`   // the parameter of which these are shares or multiples
	OverUnity  bool    `json:"over_unity"`     // a feedback that can howl: such codes are never chosen
	CanSilence bool    `json:"can_silence"`    // there is a code for no sound, or one that switches off
}

// Abilities is one entry for each kind of parameter with numbers, in the order
// of the profile. Parameters are of a kind that share role and scale.
func (d *Device) Abilities() []Ability {
	var all []Ability
	type kind struct {
		role  Role
		scale *Scale
	}
	found := map[kind]int{}
	for _, p := range d.Parameters {
		if len(p.Scale.Words()) > 0 {
			continue
		}
		k := kind{p.Role, p.Scale}
		if i, ok := found[k]; ok {
			all[i].Count++
			continue
		}
		found[k] = len(all)
		all = append(all, d.ability(p))
	}
	return all
}

func (d *Device) ability(p Parameter) Ability {
	a := Ability{Role: p.Role, Parameter: p.Name, Count: 1, Unit: p.Scale.Unit, Rounding: p.Scale.WorstRounding()}
	a.Least, a.Greatest = p.Scale.Range()
	a.Narrowest, a.Widest = p.Scale.Steps()
	switch {
	case p.Of == Clock:
		a.Of = clockWord
	case p.Of >= 0:
		a.Of = d.Parameters[p.Of].Name
	}
	_, silent := p.Scale.Silent()
	_, off := p.Scale.Off()
	a.CanSilence = silent || off
	a.OverUnity = p.Role == RoleFeedback && a.Greatest >= 0
	return a
}

// Taps is how many echoes of one sound the device can make without its loops.
func (d *Device) Taps() int {
	n := 0
	for _, l := range d.Lines {
		n += len(l.Taps)
	}
	return n
}

// An Example is a code of a parameter as the device would be told it, to be held
// against the manual.
type Example struct {
	Row
	Bytes   []byte `json:"-"`
	Hex     string `json:"bytes"`             // "" where it cannot be sent alone
	Problem string `json:"problem,omitempty"` // why the bytes could not be made
}

// Examples is the first, a middle and the last code of each parameter, for the
// device of that unit number.
func (d *Device) Examples(unit int) []Example {
	var all []Example
	for i, p := range d.Parameters {
		for _, code := range p.Scale.sample() {
			e := Example{Row: p.row(code)}
			if d.Sendable(i) {
				step, err := d.SetStep(unit, i, code)
				if err != nil {
					e.Problem = err.Error()
				} else {
					e.Bytes, e.Hex = step.Send, midi.Hex(step.Send)
				}
			}
			all = append(all, e)
		}
	}
	return all
}

// sample is the first, a middle and the last code that the scale holds.
func (s *Scale) sample() []int {
	first, last := s.Low, s.High()
	for first < last && !s.Holds(first) {
		first++
	}
	for last > first && !s.Holds(last) {
		last--
	}
	middle := (first + last) / 2
	for middle < last && !s.Holds(middle) {
		middle++
	}
	all := []int{first}
	for _, code := range []int{middle, last} {
		if code != all[len(all)-1] {
			all = append(all, code)
		}
	}
	return all
}
