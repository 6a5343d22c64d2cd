package profiles

import (
	"fmt"

	"echowright/midi"
)

// SettingSteps makes the device sound as the setting says, parameter by
// parameter, and leaves its slots alone. Nothing howls or clicks on the way:
//
//   - first the loop gains go down, then what multiplies the echoes, then the
//     levels, so that nothing is heard while times jump;
//   - sources go to the input before they go where they belong, so that no
//     circle comes about on the way;
//   - where the device has limits, times go out of the way first, so that none is
//     broken while they change one after the other: see bounds.go;
//   - then everything else, in the order of the profile;
//   - then levels come up, then what multiplies them;
//   - the loop gains come last: a loop whose time, tone and taps are not right
//     yet may ring with a gain that is harmless once they are.
//
// A parameter that cannot be set alone must be at rest.
func (d *Device) SettingSteps(unit int, s Setting) ([]midi.Step, error) {
	if err := d.Check(s); err != nil {
		return nil, err
	}
	return d.setSteps(unit, d.safeOrder(s))
}

// MuteSteps turns down what sounds, for what is about to happen to it: the loop
// gains first, then what multiplies the echoes, then the levels, each where it can
// be set alone; none where nothing can. The direct sound stays as it is.
func (d *Device) MuteSteps(unit int) ([]midi.Step, error) {
	return d.setSteps(unit, d.down(loudness...))
}

// setSteps sets parameters one after the other.
func (d *Device) setSteps(unit int, all []codeOf) ([]midi.Step, error) {
	var steps []midi.Step
	var last *way // of the step before
	pairs := 0    // in its message
	for _, c := range all {
		step, err := d.SetStep(unit, c.parameter, c.code)
		if err != nil {
			return nil, err
		}
		w := d.Parameters[c.parameter].way
		if joins(last, w, pairs) {
			steps[len(steps)-1] = joined(steps[len(steps)-1], step, w.gpc.head)
			pairs++
			continue
		}
		steps, last, pairs = append(steps, step), w, 1
	}
	return steps, nil
}

// joins reports whether a parameter may stand in the message of the one before:
// Global Parameter Control takes several of one slot.
func joins(last, w *way, pairs int) bool {
	return last != nil && w != nil && last.gpc != nil && w.gpc != nil && pairs < w.gpc.most &&
		string(last.gpc.slot) == string(w.gpc.slot) && len(last.gpc.parameter) == len(w.gpc.parameter)
}

// joined puts the pair of the second message into the first; head is how many
// bytes stand before it.
func joined(a, b midi.Step, head int) midi.Step {
	a.What += ", " + b.What
	a.Send = append(a.Send[:len(a.Send)-1:len(a.Send)-1], b.Send[head:]...)
	return a
}

// PushSteps is everything that puts a setting into a slot: where a slot can be
// written as a whole, that, and what sounds stays as it is. Else the slot is
// selected, if the device stores in the one last selected, every parameter is
// set in the order of SettingSteps, and the result is stored; then it is also
// what sounds.
func (d *Device) PushSteps(unit, slot int, s Setting) ([]midi.Step, error) {
	if err := d.Check(s); err != nil {
		return nil, err
	}
	if d.WritesSlots() {
		return d.WriteSlotSteps(unit, slot, d.AppendSlot(nil, s))
	}
	store, err := d.StoreStep(unit, slot)
	if err != nil {
		return nil, err
	}
	var steps []midi.Step
	if !d.messages.store.send.has(fieldSlot) {
		load, err := d.LoadStep(unit, slot)
		if err != nil {
			return nil, err
		}
		load.What = fmt.Sprintf("select slot %d", slot)
		steps = append(steps, load)
	}
	set, err := d.SettingSteps(unit, s)
	if err != nil {
		return nil, err
	}
	return append(append(steps, set...), store), nil
}
