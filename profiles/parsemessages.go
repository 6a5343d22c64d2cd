package profiles

import (
	"fmt"

	"echowright/midi"
)

func (b *builder) memory() {
	m := b.file.Memory
	if m == nil {
		return
	}
	d := b.device
	d.FirstSlot, d.LastSlot = b.pair("memory.slots", m.Slots, 127)
	b.inRange("memory.bytes", m.Bytes, 1, 1<<16)
	d.memory.bytes = m.Bytes
	d.memory.packing, _ = known(b, "memory.packing", m.Packing, packings)
	if n := m.Name; n != nil {
		b.inRange("memory.name.characters", n.Characters, 1, m.Bytes)
		b.inRange("memory.name.at", n.At, 0, m.Bytes-n.Characters)
		d.memory.name, d.NameLength = nameField{at: n.At, characters: n.Characters}, n.Characters
	}
	if c := m.Check; c != nil {
		d.memory.check = b.check(*c, m.Bytes)
	}
}

func (b *builder) check(c checkFile, bytes int) *memoryCheck {
	if c.Kind != "crc-16" {
		b.add("memory.check.kind", "%q: crc-16", c.Kind)
	}
	for _, f := range []struct {
		key  string
		v    int
		high int
	}{{"polynomial", c.Polynomial, 0xFFFF}, {"start", c.Start, 0xFFFF}, {"final_xor", c.FinalXOR, 0xFFFF},
		{"from", c.From, bytes - 1}, {"to", c.To, bytes - 1}, {"at", c.At, bytes - 2}} {
		b.inRange("memory.check."+f.key, f.v, 0, f.high)
	}
	switch {
	case c.To < c.From:
		b.add("memory.check.to", "%d lies before from, %d", c.To, c.From)
	case c.At+1 >= c.From && c.At <= c.To:
		b.add("memory.check.at", "%d lies inside its own range, %d to %d", c.At, c.From, c.To)
	}
	crc := midi.CRC16{
		Poly: uint16(c.Polynomial), Init: uint16(c.Start), XorOut: uint16(c.FinalXOR),
		ReflectIn: c.Reflected, ReflectOut: c.Reflected,
	}
	return &memoryCheck{crc: crc.Sum, from: c.From, to: c.To, at: c.At, low: c.LowFirst}
}

func (b *builder) messages() {
	var sum checksum
	if c := b.file.Checksum; c != nil {
		sum, _ = known(b, "checksum.kind", c.Kind, checksums)
	}
	dump := 0
	if b.file.Memory != nil {
		dump = midi.PackedLength(b.device.memory.bytes)
	}
	read := func(path, text string) *template {
		t, err := parseTemplate(text, sum, dump)
		if err != nil {
			b.add(path, "%v", err)
		}
		return t
	}
	out, f := &b.device.messages, b.file.Message
	for _, m := range []struct {
		key  string
		from *messageFile
		into **message
	}{
		{"set", f.Set, &out.set}, {"ask", f.Ask, &out.ask}, {"ask_slot", f.AskSlot, &out.askSlot},
		{"write_slot", f.WriteSlot, &out.writeSlot}, {"store", f.Store, &out.store}, {"load", f.Load, &out.load},
	} {
		if m.from == nil {
			continue
		}
		path := "message." + m.key
		b.inRange(path+".command", m.from.Command, 0, 127)
		*m.into = &message{command: m.from.Command, send: read(path+".send", m.from.Send), flash: m.from.Flash}
		if m.from.Reply != "" {
			(*m.into).reply = read(path+".reply", m.from.Reply)
		}
	}
	for i, a := range b.file.Answers {
		path := fmt.Sprintf("answer.%d", i)
		means, err := midi.ParseMeaning(a.Means)
		if err != nil {
			b.add(path+".means", "%v", err)
		}
		out.answers = append(out.answers, answer{match: read(path+".match", a.Match), means: means, says: a.Says})
	}
	b.needMemory(out)
}

// needMemory refuses messages about slots in a profile that describes none.
func (b *builder) needMemory(m *messages) {
	if b.file.Memory != nil {
		return
	}
	for key, has := range map[string]bool{"ask_slot": m.askSlot != nil, "write_slot": m.writeSlot != nil} {
		if has {
			b.add("message."+key, "is there, but no [memory] that says what a slot holds")
		}
	}
}

// overlaps refuses two parameters in one place of the memory or at one address.
func (b *builder) overlaps() {
	taken := make([][8]string, b.device.memory.bytes)
	claim := func(who string, at, bytes, shift, bits int) {
		for i := at; i < at+bytes; i++ {
			for bit := shift; bit < shift+bits; bit++ {
				if other := taken[i][bit]; other != "" && other != who {
					b.add("memory", "byte %d belongs to %s and to %s", i, other, who)
					return
				}
				taken[i][bit] = who
			}
		}
	}
	addresses := map[int]string{}
	for _, p := range b.device.Parameters {
		if f := p.field; f.bits > 0 {
			claim(p.Name, f.at, 1, f.shift, f.bits)
		} else if f.bytes > 0 {
			claim(p.Name, f.at, f.bytes, 0, 8)
		}
		if p.Address == None {
			continue
		}
		if other, ok := addresses[p.Address]; ok {
			b.add("parameter", "address %Xh belongs to %s and to %s", p.Address, other, p.Name)
		}
		addresses[p.Address] = p.Name
	}
	claim("the name", b.device.memory.name.at, b.device.memory.name.characters, 0, 8)
	if c := b.device.memory.check; c != nil {
		claim("the check", c.at, 2, 0, 8)
	}
}
