package profiles

import "echowright/midi"

// A SlotExample is a message about a slot, to hold against the manual.
type SlotExample struct {
	What  string `json:"message"` // "load slot 0"
	Bytes string `json:"bytes"`   // hex
}

// SlotExamples are the messages that load a slot, store what sounds in it and ask
// for it, for the first and the last slot; those that the device has.
func (d *Device) SlotExamples(unit int) []SlotExample {
	if !d.HasSlots() && !d.Readable() {
		return nil
	}
	slots := []int{d.FirstSlot}
	if d.LastSlot > d.FirstSlot {
		slots = append(slots, d.LastSlot)
	}
	var all []SlotExample
	for _, step := range []func(unit, slot int) (midi.Step, error){d.LoadStep, d.StoreStep, d.AskSlotStep} {
		for _, slot := range slots {
			if s, err := step(unit, slot); err == nil { // else the device has no such message
				all = append(all, SlotExample{s.What, midi.Hex(s.Send)})
			}
		}
	}
	return all
}
