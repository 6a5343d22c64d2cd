package profiles

import (
	"fmt"
	"strconv"
	"strings"
)

// A Hole is something that a description leaves open: nothing is wrong with it,
// but something cannot be done until it is filled.
type Hole struct {
	Subject string `json:"subject"` // "a-level", "memory", "identity"
	Missing string `json:"missing"` // what cannot be done, and why
	Mend    string `json:"mend"`    // what to add to the profile
}

// Holes is what the profile leaves open, the device as a whole first.
func (d *Device) Holes() []Hole {
	var all []Hole
	add := func(open bool, h Hole) {
		if open {
			all = append(all, h)
		}
	}
	add(d.Identity == nil, Hole{"identity", "the device cannot be asked what it is: another one on the port would not be noticed",
		"[identity], if the manual prints an answer to the Identity Request"})
	add(!d.Readable(), Hole{"readback", "what a slot holds cannot be asked for: writing cannot be proved, backing up cannot be done",
		"[message.ask_slot] with its reply, if the device sends its memory at all"})
	add(!d.HasSlots(), Hole{"slots", "nothing can be kept in a slot: a setting lasts until another is chosen",
		"[memory] with its slots, and [message.store] or [message.write_slot]"})
	add(d.Manners.Gap == 0, Hole{"manners", "no silence between messages is stated: a slow device loses what comes too fast",
		"gap_ms in [manners], if the manual asks for a pause"})
	if open := d.undescribed(); len(open) > 0 {
		add(true, Hole{"memory", fmt.Sprintf("bytes %s of a slot are not described, and are written as 0", spans(open)),
			"a parameter, or [[memory.fixed]] for bytes that are always the same"})
	}
	all = append(all, d.boundsBroken()...)
	for i, p := range d.Parameters {
		kept := p.field.bytes > 0
		switch {
		case !d.Sendable(i) && !kept:
			add(true, Hole{p.Name, "it can be neither sent nor kept: no message and no place in the memory is given",
				"control, nrpn, address or send, or memory"})
		case !d.Sendable(i):
			add(true, Hole{p.Name, "it cannot be sent alone: it changes only with a whole slot", "control, nrpn, address or send"})
		case !kept && d.memory.bytes > 0:
			add(true, Hole{p.Name, "its place in a slot's memory is not given: a whole slot is written without it", "memory = { at = … }"})
		}
	}
	return all
}

// undescribed is the bytes of a slot that no parameter, name, check or fixed
// bytes claim, not even in part.
func (d *Device) undescribed() []int {
	m := d.memory
	c := claims{b: &builder{}, memory: make([][8]string, m.bytes)}
	for _, p := range d.Parameters {
		c.field(p.Name, p.field)
	}
	c.bytes("the name", m.name.at, m.name.characters)
	for _, f := range m.fixed {
		c.bytes("fixed bytes", f.at, len(f.bytes))
	}
	if m.check != nil {
		c.bytes("the check", m.check.at, m.check.bytes)
	}
	var open []int
	for i, bits := range c.memory {
		if bits == [8]string{} {
			open = append(open, i)
		}
	}
	return open
}

// spans tells sorted numbers as "5, 8 to 11".
func spans(sorted []int) string {
	var parts []string
	for i := 0; i < len(sorted); {
		k := i
		for k+1 < len(sorted) && sorted[k+1] == sorted[k]+1 {
			k++
		}
		part := strconv.Itoa(sorted[i])
		if k > i {
			part += " to " + strconv.Itoa(sorted[k])
		}
		parts = append(parts, part)
		i = k + 1
	}
	return strings.Join(parts, ", ")
}
