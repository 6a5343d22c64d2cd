package profiles

import (
	"fmt"

	"echowright/midi"
)

// HasSlots reports whether slots can be filled, by whatever messages.
func (d *Device) HasSlots() bool { return d.WritesSlots() || d.messages.store != nil }

// WritesSlots reports whether a slot can be written as a whole, without a change
// to what sounds.
func (d *Device) WritesSlots() bool {
	return (d.messages.writeSlot != nil || d.memory.fileDump != nil) && d.wholeInMemory()
}

// wholeInMemory reports whether the memory is described well enough to be written:
// every parameter that the echo depends on has its place in it. What has none would
// be written as 0, whatever that means to the device.
func (d *Device) wholeInMemory() bool {
	for _, p := range d.Parameters {
		if p.Role != RoleOther && p.field.bytes == 0 {
			return false
		}
	}
	return true
}

// Readable reports whether the device tells what a slot holds.
func (d *Device) Readable() bool { return d.messages.askSlot != nil || d.memory.fileDump != nil }

// AskSlotStep asks for what a slot holds.
func (d *Device) AskSlotStep(unit, slot int) (midi.Step, error) {
	if err := d.CheckSlot(slot); err != nil {
		return midi.Step{}, err
	}
	return d.step(d.messages.askSlot, fmt.Sprintf("ask for slot %d", slot), fields{unit: unit, slot: slot})
}

// WriteSlotStep overwrites a slot with a memory as AppendSlot makes it or as
// SlotMemory read it. A device whose slots take more than one message has
// WriteSlotSteps alone.
func (d *Device) WriteSlotStep(unit, slot int, memory []byte) (midi.Step, error) {
	if err := d.checkMemory(slot, memory); err != nil {
		return midi.Step{}, err
	}
	if d.messages.writeSlot == nil {
		return midi.Step{}, fmt.Errorf("device %q: write slot %d in one message: %w", d.Name, slot, ErrCannot)
	}
	packed := d.memory.packing.pack(nil, memory)
	return d.step(d.messages.writeSlot, fmt.Sprintf("write slot %d", slot), fields{unit: unit, slot: slot, dump: packed})
}

// WriteSlotSteps is the same for a slot that travels in any way.
func (d *Device) WriteSlotSteps(unit, slot int, memory []byte) ([]midi.Step, error) {
	if d.memory.fileDump != nil {
		return d.fileDumpSteps(unit, slot, memory)
	}
	step, err := d.WriteSlotStep(unit, slot, memory)
	if err != nil {
		return nil, err
	}
	return []midi.Step{step}, nil
}

func (d *Device) checkMemory(slot int, memory []byte) error {
	if err := d.CheckSlot(slot); err != nil {
		return err
	}
	if len(memory) != d.memory.bytes {
		return fmt.Errorf("slot %d: a memory of %d bytes: device %q has %d", slot, len(memory), d.Name, d.memory.bytes)
	}
	return nil
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

// SlotMemory takes the memory out of the message in which the device sent it, or
// out of all the messages of a File Dump, and says which slot it was. An error
// wraps ErrDamaged where a checksum does not hold. The memory's own check is looked at by SlotSetting.
func (d *Device) SlotMemory(message []byte) (slot int, memory []byte, err error) {
	if d.memory.fileDump != nil {
		return d.fileDumpMemory(message)
	}
	if d.messages.askSlot == nil {
		return 0, nil, fmt.Errorf("device %q: read a slot: %w", d.Name, ErrCannot)
	}
	var f fields
	if err := d.messages.askSlot.reply.parse(message, &f); err != nil {
		return 0, nil, err
	}
	memory, err = d.memory.packing.unpack(nil, f.dump)
	if err != nil {
		return 0, nil, fmt.Errorf("slot %d: %w", f.slot, err)
	}
	return f.slot, memory, nil
}

// CheckSlot refuses a slot that the device does not have.
func (d *Device) CheckSlot(slot int) error {
	if !d.HasSlots() && !d.Readable() && d.messages.load == nil {
		return fmt.Errorf("device %q has no slots: %w", d.Name, ErrCannot)
	}
	if slot < d.FirstSlot || slot > d.LastSlot {
		return fmt.Errorf("slot %d: device %q has slots %d to %d", slot, d.Name, d.FirstSlot, d.LastSlot)
	}
	return nil
}
