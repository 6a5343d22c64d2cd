package profiles

import (
	"errors"
	"fmt"

	"echowright/midi"
)

// messages are what can be said to the device, nil where it has no such message.
type messages struct {
	set, ask, askSlot, writeSlot, store, load *message

	answers []answer
}

// A message is a command with the reply that brings what was asked for; without
// a reply it is acknowledged.
type message struct {
	command int
	send    *template
	reply   *template
	flash   bool // writes to memory
}

// An answer is what may come back to any command.
type answer struct {
	match *template
	means midi.Meaning
	says  string
}

// ErrCannot is what asking for a message gives that the device does not have.
var ErrCannot = errors.New("the device has no message for it")

// step fills a message and works out what may come back.
func (d *Device) step(m *message, what string, f fields) (midi.Step, error) {
	if m == nil {
		return midi.Step{}, fmt.Errorf("device %q: %s: %w", d.Name, what, ErrCannot)
	}
	f.command = m.command
	send, err := m.send.append(nil, &f)
	if err != nil {
		return midi.Step{}, fmt.Errorf("device %q: %s: %w", d.Name, what, err)
	}
	s := midi.Step{What: what, Send: send, Timeout: d.Manners.Answer, Gap: d.Manners.Gap}
	if m.flash {
		s.Timeout += d.Manners.Flash
	}
	if s.Answers, err = d.answersTo(m, f); err != nil {
		return midi.Step{}, fmt.Errorf("device %q: answers to %s: %w", d.Name, what, err)
	}
	return s, nil
}

// answersTo lists the reply, if the message has one, and then whatever may come
// back to any command; a message with a reply is not acknowledged beside it.
func (d *Device) answersTo(m *message, f fields) ([]midi.Answer, error) {
	var all []midi.Answer
	if m.reply != nil {
		f.value, f.dump = anyNumber, nil
		match, err := m.reply.match(&f)
		if err != nil {
			return nil, err
		}
		all = append(all, midi.Answer{Match: match, Means: midi.Data})
	}
	for _, a := range d.messages.answers {
		if m.reply != nil && a.means == midi.Done {
			continue
		}
		match, err := a.match.match(&f)
		if err != nil {
			return nil, err
		}
		all = append(all, midi.Answer{Match: match, Means: a.means, Says: a.says})
	}
	return all, nil
}

// SetStep sets one parameter (by its index) of what sounds now to a code.
func (d *Device) SetStep(unit, parameter, code int) (midi.Step, error) {
	p := d.Parameters[parameter]
	what := fmt.Sprintf("set %s to code %d", p.Name, code)
	if !p.Scale.Holds(code) {
		return midi.Step{}, fmt.Errorf("device %q: %s: it takes %d to %d", d.Name, what, p.Scale.Low, p.Scale.High())
	}
	return d.step(d.messages.set, fmt.Sprintf("set %s = %v %s", p.Name, p.Scale.Value(code), p.Scale.Unit),
		fields{unit: unit, address: p.Address, value: code})
}

// AskStep asks for one parameter (by its index) of what sounds now.
func (d *Device) AskStep(unit, parameter int) (midi.Step, error) {
	p := d.Parameters[parameter]
	return d.step(d.messages.ask, "ask for "+p.Name, fields{unit: unit, address: p.Address})
}

// Code reads the answer to AskStep.
func (d *Device) Code(message []byte) (code int, err error) {
	var f fields
	if d.messages.ask == nil {
		return 0, fmt.Errorf("device %q: %w", d.Name, ErrCannot)
	}
	err = d.messages.ask.reply.parse(message, &f)
	return f.value, err
}

// AskSlotStep asks for what a slot holds.
func (d *Device) AskSlotStep(unit, slot int) (midi.Step, error) {
	if err := d.CheckSlot(slot); err != nil {
		return midi.Step{}, err
	}
	return d.step(d.messages.askSlot, fmt.Sprintf("ask for slot %d", slot), fields{unit: unit, slot: slot})
}

// WriteSlotStep overwrites a slot with a memory as AppendSlot makes it or as
// SlotMemory read it.
func (d *Device) WriteSlotStep(unit, slot int, memory []byte) (midi.Step, error) {
	if err := d.CheckSlot(slot); err != nil {
		return midi.Step{}, err
	}
	if len(memory) != d.memory.bytes {
		return midi.Step{}, fmt.Errorf("slot %d: a memory of %d bytes: device %q has %d", slot, len(memory), d.Name, d.memory.bytes)
	}
	packed := midi.AppendPacked(nil, memory, d.memory.packing)
	return d.step(d.messages.writeSlot, fmt.Sprintf("write slot %d", slot), fields{unit: unit, slot: slot, dump: packed})
}

// StoreStep keeps what sounds now in a slot.
func (d *Device) StoreStep(unit, slot int) (midi.Step, error) {
	if err := d.CheckSlot(slot); err != nil {
		return midi.Step{}, err
	}
	return d.step(d.messages.store, fmt.Sprintf("store in slot %d", slot), fields{unit: unit, slot: slot})
}

// LoadStep makes a slot sound.
func (d *Device) LoadStep(unit, slot int) (midi.Step, error) {
	if err := d.CheckSlot(slot); err != nil {
		return midi.Step{}, err
	}
	return d.step(d.messages.load, fmt.Sprintf("load slot %d", slot), fields{unit: unit, slot: slot})
}

// SlotMemory takes the memory out of the message in which the device sent it,
// and says which slot it was. An error wraps ErrDamaged where a checksum does
// not hold. The memory's own check is looked at by SlotSetting.
func (d *Device) SlotMemory(message []byte) (slot int, memory []byte, err error) {
	if d.messages.askSlot == nil {
		return 0, nil, fmt.Errorf("device %q: read a slot: %w", d.Name, ErrCannot)
	}
	var f fields
	if err := d.messages.askSlot.reply.parse(message, &f); err != nil {
		return 0, nil, err
	}
	memory, err = midi.AppendUnpacked(nil, f.dump, d.memory.packing)
	if err != nil {
		return 0, nil, fmt.Errorf("slot %d: %w", f.slot, err)
	}
	return f.slot, memory, nil
}

// IdentityStep asks the device what it is. A device whose profile states no
// identity cannot be asked.
func (d *Device) IdentityStep(unit int) (midi.Step, error) {
	if d.Identity == nil {
		return midi.Step{}, fmt.Errorf("device %q: ask for its identity: %w", d.Name, ErrCannot)
	}
	request, err := midi.IdentityRequest(unit)
	if err != nil {
		return midi.Step{}, err
	}
	// Any identity is an answer: that it is the right one is judged by CheckIdentity.
	reply := midi.Match{Value: []byte{0xF0, 0x7E, 0, 0x06, 0x02}, Mask: []byte{0xFF, 0xFF, 0, 0xFF, 0xFF}, Tail: true}
	return midi.Step{
		What: "ask for its identity", Send: request, Timeout: d.Manners.Answer, Gap: d.Manners.Gap,
		Answers: []midi.Answer{{Match: reply, Means: midi.Data}},
	}, nil
}

// CheckIdentity refuses the answer of a device of another model.
func (d *Device) CheckIdentity(reply []byte) error {
	id, err := midi.ParseIdentity(reply)
	if err != nil {
		return err
	}
	want := *d.Identity
	if got := (Identity{Manufacturer: id.Manufacturer, Family: id.Family, Member: id.Member}); got != want {
		return fmt.Errorf("what answers is %v; device %q is %v", got, d.Name, want)
	}
	return nil
}

// CheckSlot refuses a slot that the device does not have.
func (d *Device) CheckSlot(slot int) error {
	if !d.HasSlots() && !d.Readable() {
		return fmt.Errorf("device %q has no slots: %w", d.Name, ErrCannot)
	}
	if slot < d.FirstSlot || slot > d.LastSlot {
		return fmt.Errorf("slot %d: device %q has slots %d to %d", slot, d.Name, d.FirstSlot, d.LastSlot)
	}
	return nil
}

// CheckUnit refuses a unit number that cannot be set on the device.
func (d *Device) CheckUnit(unit int) error {
	if unit < d.Manners.FirstUnit || unit > d.Manners.LastUnit {
		return fmt.Errorf("unit number %d: device %q can be set to %d to %d", unit, d.Name, d.Manners.FirstUnit, d.Manners.LastUnit)
	}
	return nil
}
