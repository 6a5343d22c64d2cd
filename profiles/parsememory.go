package profiles

import "fmt"

func (b *builder) memory() {
	defer b.templateRules()
	m := b.file.Memory
	if m == nil {
		return
	}
	d := b.device
	d.FirstSlot, d.LastSlot = b.pair("memory.slots", m.Slots, maxSlot)
	if m.Bytes == 0 {
		b.noLayout(*m)
		return
	}
	b.inRange("memory.bytes", m.Bytes, 1, 1<<16)
	if m.Bytes < 1 || m.Bytes > 1<<16 {
		return
	}
	d.memory.bytes = m.Bytes
	d.memory.packing = packings["file-dump"]
	if m.Packing != "" || m.FileDump == nil {
		if p, ok := known(b, "memory.packing", m.Packing, packings); ok {
			d.memory.packing = p
		}
	}
	if n := m.Name; n != nil {
		b.inRange("memory.name.characters", n.Characters, 1, m.Bytes)
		b.inRange("memory.name.at", n.At, 0, m.Bytes-n.Characters)
		d.memory.name, d.NameLength = nameField{at: n.At, characters: n.Characters}, n.Characters
	}
	for i, f := range m.Fixed {
		b.inRange(fmt.Sprintf("memory.fixed.%d.at", i), f.At, 0, m.Bytes-len(f.Bytes))
		d.memory.fixed = append(d.memory.fixed, fixed{at: f.At, bytes: f.Bytes})
	}
	if c := m.Check; c != nil {
		d.memory.check = b.check(*c, m.Bytes)
	}
	if f := m.FileDump; f != nil {
		d.memory.fileDump = b.fileDump("memory.file_dump", *f)
	}
}

// maxSlot is the greatest slot number: as many as banks of programs reach.
const maxSlot = 1<<14 - 1

// noLayout refuses what belongs to a layout where there is none.
func (b *builder) noLayout(m memoryFile) {
	for _, k := range []struct {
		key   string
		given bool
	}{{"packing", m.Packing != ""}, {"name", m.Name != nil}, {"check", m.Check != nil}, {"fixed", m.Fixed != nil}, {"file_dump", m.FileDump != nil}} {
		if k.given {
			b.add("memory."+k.key, "says how a slot's bytes lie or travel, but memory.bytes, how many there are, is missing")
		}
	}
}

func (b *builder) check(c checkFile, bytes int) *memoryCheck {
	rule := b.checksum("memory.check", c.ruleFile)
	out := &memoryCheck{rule: rule, from: c.From, to: c.To, at: c.At, bytes: c.Bytes, low: c.LowFirst}
	if out.bytes == 0 {
		out.bytes = max(1, rule.bits/8)
	}
	b.inRange("memory.check.bytes", out.bytes, max(1, rule.bits/8), 4)
	b.inRange("memory.check.bits", c.Bits, 0, 8*out.bytes)
	b.inRange("memory.check.from", c.From, 0, bytes-1)
	b.inRange("memory.check.to", c.To, 0, bytes-1)
	b.inRange("memory.check.at", c.At, 0, bytes-out.bytes)
	switch {
	case c.To < c.From:
		b.add("memory.check.to", "%d lies before from, %d", c.To, c.From)
	case c.At+out.bytes > c.From && c.At <= c.To:
		b.add("memory.check.at", "%d lies inside its own range, %d to %d", c.At, c.From, c.To)
	}
	bits := c.Bits
	if bits == 0 {
		bits = 8 * out.bytes
	}
	out.mask = 1<<bits - 1
	return out
}

// field checks that the bytes lie in the memory and can hold every code.
func (b *builder) field(path string, f fieldFile, s *Scale) field {
	out := field{at: f.At, bytes: max(1, f.Bytes), low: f.LowFirst, shift: f.Bit, bits: f.Bits, offset: f.Offset, signed: f.Signed, lowAt: None}
	if b.file.Memory == nil || b.device.memory.bytes == 0 {
		b.add(path, "is there, but no [memory] with bytes to lie in")
		return out
	}
	switch {
	case f.Bytes < 0 || f.Bytes > 4:
		b.add(path+".bytes", "%d: 1 to 4", f.Bytes)
		return out
	case f.Bits < 0 || f.Bit < 0 || f.Bit+f.Bits > 8*out.bytes || f.Bits == 0 && f.Bit > 0:
		b.add(path, "bit %d, bits %d: some of the 8 bits of one byte, of as many as there are bytes, or none named for all", f.Bit, f.Bits)
		return out
	case (f.Split != 0) != (f.LowAt != nil) || f.Split < 0 || f.Split == 1:
		b.add(path, "split %d: code/split stands at at, code%%split at low_at: give both, split 2 or more", f.Split)
		return out
	case f.Signed && f.Split != 0:
		b.add(path+".signed", "goes with a number in one place, not with split")
		return out
	}
	if f.LowAt != nil {
		out.split, out.lowAt = f.Split, *f.LowAt
	}
	b.inMemory(path+".at", out.at, out.bytes)
	if out.split > 0 {
		b.inMemory(path+".low_at", out.lowAt, out.bytes)
	}
	for _, code := range []int{s.Low, s.High()} {
		if !out.holds(code) {
			b.add(path, "has %d bits: code %d of scale %q does not fit", out.width(), code, s.Name)
			break
		}
	}
	return out
}

func (b *builder) inMemory(path string, at, bytes int) {
	if at < 0 || at+bytes > b.device.memory.bytes {
		b.add(path, "%d: outside the memory, which has bytes 0 to %d", at, b.device.memory.bytes-1)
	}
}
