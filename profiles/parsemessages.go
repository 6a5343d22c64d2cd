package profiles

import (
	"fmt"

	"echowright/midi"
)

func (b *builder) messages() {
	out, f := &b.device.messages, b.file.Message
	for _, m := range []struct {
		key  string
		from *messageFile
		into **message
	}{
		{"set", f.Set, &out.set}, {"ask", f.Ask, &out.ask}, {"ask_slot", f.AskSlot, &out.askSlot},
		{"write_slot", f.WriteSlot, &out.writeSlot}, {"store", f.Store, &out.store}, {"load", f.Load, &out.load},
	} {
		if m.from != nil {
			*m.into = b.message("message."+m.key, *m.from, m.key == "load" || m.key == "store")
		}
	}
	for i, a := range b.file.Answers {
		path := fmt.Sprintf("answer.%d", i)
		means, err := midi.ParseMeaning(a.Means)
		if err != nil {
			b.add(path+".means", "%v", err)
		}
		out.answers = append(out.answers, answer{match: b.pattern(path+".match", a.Match), means: means, says: a.Says})
	}
	b.needMemory(out)
	b.needPlaces(out)
}

// template reads a message's text, or tells what is wrong with it.
func (b *builder) template(path, text string) *template {
	t, err := parseTemplate(text, b.rules)
	if err != nil {
		b.add(path, "%v", err)
	}
	return t
}

// pattern is a template for what comes from the device: one message.
func (b *builder) pattern(path, text string) *template {
	t := b.template(path, text)
	if t != nil && t.messages > 1 {
		b.add(path, "%q is %d messages: what the device sends is looked at message by message", text, t.messages)
	}
	return t
}

// templateRules works out what all templates have in common.
func (b *builder) templateRules() {
	b.rules = templateRules{running: b.file.Manners.Running}
	if c := b.file.Checksum; c != nil {
		b.rules.sum = b.checksum("checksum", *c)
	}
	if m := b.device.memory; m.bytes > 0 {
		b.rules.dump = m.packing.length(m.bytes)
	}
}

func (b *builder) message(path string, f messageFile, short bool) *message {
	b.inRange(path+".command", f.Command, 0, 127)
	if f.PauseMs < 0 || f.PauseMs > 60_000 {
		b.add(path+".pause_ms", "%v: from 0 to 60000", f.PauseMs)
	}
	m := &message{command: f.Command, flash: f.Flash, pause: milliseconds(f.PauseMs)}
	text := f.Send
	if short {
		text = b.shortForm(path, f)
	}
	if text == "" {
		return m
	}
	m.send = b.template(path+".send", text)
	if f.Reply != "" {
		m.reply = b.pattern(path+".reply", f.Reply)
	}
	return m
}

// shortForm is the text of a message that loads or stores, however it is given.
func (b *builder) shortForm(path string, f messageFile) string {
	n := 0
	for _, given := range []bool{f.Send != "", f.Program != 0, f.Control != nil} {
		if given {
			n++
		}
	}
	switch {
	case n != 1:
		b.add(path, "has %d forms: give one of send, program, control", n)
		return ""
	case f.Program != 0:
		return b.programText(path, f)
	case f.Control == nil:
		return f.Send
	}
	b.controller(path+".control", *f.Control)
	if f.Value == nil {
		return fmt.Sprintf("B{channel} %02X {slot}", *f.Control)
	}
	b.inRange(path+".value", *f.Value, 0, 127)
	return fmt.Sprintf("B{channel} %02X %02X", *f.Control, *f.Value&0x7F)
}

// programText is Program Change, with Bank Select before it: CC 0 is the high
// byte of the bank, CC 32 the low one (M1 page 13).
func (b *builder) programText(path string, f messageFile) string {
	n, slots := f.Program, b.device.LastSlot-b.device.FirstSlot+1
	b.inRange(path+".program", n, 1, 128)
	b.inRange(path+".first_bank", f.FirstBank, 0, 16383)
	if n < 1 || n > 128 {
		return ""
	}
	slot := fmt.Sprintf("(slot%+d)", f.FirstBank*n-b.device.FirstSlot)
	program := fmt.Sprintf("C{channel} {%s%%%d}", slot, n)
	switch f.Bank {
	case "":
		if slots > n {
			b.add(path+".program", "%d: there are %d slots; say with bank how the others are reached", n, slots)
			return ""
		}
		return fmt.Sprintf("C{channel} {slot%+d}", -b.device.FirstSlot)
	case "both":
		status := "B{channel} "
		if b.rules.running {
			status = ""
		}
		return fmt.Sprintf("B{channel} 00 {%s/%d} %s20 {%s/%d%%128} %s", slot, n*128, status, slot, n, program)
	case "high":
		return fmt.Sprintf("B{channel} 00 {%s/%d} %s", slot, n, program)
	case "low":
		return fmt.Sprintf("B{channel} 20 {%s/%d} %s", slot, n, program)
	}
	b.add(path+".bank", "%q: both (CC 0, then CC 32), high (CC 0 alone) or low (CC 32 alone)", f.Bank)
	return ""
}

// needMemory refuses messages about slots in a profile that describes none.
func (b *builder) needMemory(m *messages) {
	for _, c := range []struct {
		key  string
		has  bool
		dump bool
	}{
		{"ask_slot", m.askSlot != nil, true}, {"write_slot", m.writeSlot != nil, true},
		{"store", m.store != nil, false}, {"load", m.load != nil, false},
	} {
		switch {
		case c.has && b.file.Memory == nil:
			b.add("message."+c.key, "is there, but no [memory] that says which slots there are")
		case c.has && c.dump && b.file.Memory.Bytes == 0:
			b.add("memory.bytes", "is missing, and [message.%s] has a dump of them", c.key)
		}
	}
}

// needPlaces refuses messages that lack what they are for.
func (b *builder) needPlaces(m *messages) {
	for _, c := range []struct {
		key  string
		t    *template
		need []fieldName
	}{
		{"set.send", m.set.sent(), []fieldName{fieldAddress, fieldValue}},
		{"ask.send", m.ask.sent(), []fieldName{fieldAddress}},
		{"ask.reply", m.ask.replied(), []fieldName{fieldValue}},
		{"ask_slot.send", m.askSlot.sent(), []fieldName{fieldSlot}},
		{"ask_slot.reply", m.askSlot.replied(), []fieldName{fieldSlot, fieldDump}},
		{"write_slot.send", m.writeSlot.sent(), []fieldName{fieldSlot, fieldDump}},
		{"load.send", m.load.sent(), []fieldName{fieldSlot}},
	} {
		for _, name := range c.need {
			if c.t != nil && !c.t.has(name) {
				b.add("message."+c.key, "%q has no {%s}", c.t.text, name)
			}
		}
	}
	b.needSlots(m)
}

// needSlots refuses messages that do not reach every slot.
func (b *builder) needSlots(m *messages) {
	if m.store != nil && m.store.send != nil && !m.store.send.has(fieldSlot) && m.load == nil {
		b.add("message.store", "stores in the slot last selected, but there is no [message.load] that selects one")
	}
	for _, c := range []struct {
		key string
		t   *template
	}{{"ask_slot", m.askSlot.sent()}, {"write_slot", m.writeSlot.sent()}, {"load", m.load.sent()}, {"store", m.store.sent()}} {
		if c.t == nil || !c.t.has(fieldSlot) {
			continue
		}
		for _, slot := range []int{b.device.FirstSlot, b.device.LastSlot} {
			if got, err := c.t.again(fields{slot: slot, dump: make([]byte, b.rules.dump)}); err != nil {
				b.add("message."+c.key, "%v", err)
			} else if got.slot != slot {
				b.add("message."+c.key, "%q does not hold all of slot %d", c.t.text, slot)
			}
		}
	}
}
