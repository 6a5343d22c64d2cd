package profiles

import (
	"fmt"
	"strings"

	"echowright/midi"
)

// overlaps refuses two things in one place of the memory, or two parameters that
// the device could not tell apart.
func (b *builder) overlaps() {
	c := claims{b: b, memory: make([][8]string, b.device.memory.bytes), wire: map[string]string{}}
	c.shared()
	for i := range b.device.Parameters {
		p := &b.device.Parameters[i]
		c.path = b.paths[i] + ".memory"
		c.field(p.Name, p.field)
		c.path = b.paths[i]
		c.sent(p)
	}
	m := b.device.memory
	c.path = "memory"
	c.bytes("the name", m.name.at, m.name.characters)
	for _, f := range m.fixed {
		c.bytes("fixed bytes", f.at, len(f.bytes))
	}
	if m.check != nil {
		c.bytes("the check", m.check.at, m.check.bytes)
	}
}

// claims are who has which place.
type claims struct {
	b      *builder
	path   string // of who claims
	memory [][8]string
	wire   map[string]string
}

func (c *claims) bytes(who string, at, n int) { c.bits(who, at, n, false, 0, 8*n) }

// bits claims some bits of a number in n bytes, counted from its lowest.
func (c *claims) bits(who string, at, n int, low bool, shift, bits int) {
	for k := shift; k < shift+bits; k++ {
		i := at + n - 1 - k/8
		if low {
			i = at + k/8
		}
		if other := c.memory[i][k%8]; other != "" {
			c.b.add(c.path, "byte %d belongs to %s and to %s%s", i, other, who, apart(other, who))
			return
		}
		c.memory[i][k%8] = who
	}
}

func (c *claims) field(who string, f field) {
	if f.bytes == 0 {
		return
	}
	c.bits(who, f.at, f.bytes, f.low, f.shift, f.width())
	if f.split > 0 {
		c.bits(who, f.lowAt, f.bytes, f.low, f.shift, f.width())
	}
}

func (c *claims) sent(p *Parameter) {
	if p.Address != None {
		c.on(fmt.Sprintf("address %Xh", p.Address), p.Name)
	}
	w := p.way
	if w == nil {
		return
	}
	switch {
	case w.controls != nil:
		for _, n := range w.controls {
			c.on(fmt.Sprintf("controller %d", n), p.Name)
		}
	case w.number != nil || w.gpc != nil:
		c.on(w.name, p.Name)
	default:
		message, err := w.send.append(nil, &fields{value: p.Scale.Low, address: max(0, p.Address)})
		if err == nil {
			c.on("the message "+midi.Hex(message), p.Name)
		}
	}
}

// shared claims the controllers that are not a parameter's: those that load and
// store, and those that tell parameter numbers.
func (c *claims) shared() {
	m := c.b.device.messages
	for _, t := range []*template{m.load.sent(), m.store.sent()} {
		for _, n := range t.controllers() {
			c.wire[fmt.Sprintf("controller %d", n)] = "[message.load] or [message.store]"
		}
	}
	for _, p := range c.b.device.Parameters {
		if p.way == nil || p.way.number == nil {
			continue
		}
		for _, n := range []int{ccDataHigh, ccDataLow, ccNRPNLow, ccNRPNHigh, ccRPNLow, ccRPNHigh} {
			c.wire[fmt.Sprintf("controller %d", n)] = "parameter numbers"
		}
	}
}

func (c *claims) on(place, who string) {
	if other, ok := c.wire[place]; ok {
		c.b.add(c.path, "%s belongs to %s and to %s%s", place, other, who, apart(other, who))
		return
	}
	c.wire[place] = who
}

// apart tells how the same parameter of two lines or taps is kept apart.
func apart(a, b string) string {
	_, restA, _ := strings.Cut(a, "-")
	_, restB, _ := strings.Cut(b, "-")
	if restA == "" || restA != restB {
		return ""
	}
	return ": say with address_step, control_step, number_step, gpc_slot_step or memory_step how far apart lines or taps are"
}
