package cli

import (
	"fmt"
	"slices"

	"echowright/library"
	"echowright/library/exchange"
	"echowright/profiles"
)

// A kept snapshot is read with the profile that it was taken with, whatever has
// become of the profile since.
type kept struct {
	library.Snapshot
	device *profiles.Device
}

func (c *call) kept(name string) (kept, error) {
	shelf, err := c.library()
	if err != nil {
		return kept{}, err
	}
	s, err := shelf.Snapshot(name)
	if err != nil {
		return kept{}, err
	}
	return understood(s)
}

// understood is a snapshot with its profile.
func understood(s library.Snapshot) (kept, error) {
	d, err := profiles.Parse("profile.toml", s.Profile)
	if err != nil {
		return kept{}, fmt.Errorf("snapshot %q: the profile kept with it cannot be read: %w; its .syx files are whole all the same", s.Name, err)
	}
	return kept{s, d}, nil
}

// goOn is the command line that reads what is missing.
func (k kept) goOn() string {
	s := exchange.Session{Device: k.device, Unit: k.UnitNumber, Channel: k.Channel, Port: k.Port}
	return fmt.Sprintf("echowright backup %s --resume=%s", s.Target(), k.Name)
}

// slot is what a slot of the snapshot means to a device: its own, or another
// version of that. What means nothing has a Fault.
func (k kept) slot(d *profiles.Device, s library.SnapshotSlot) exchange.Slot {
	read := exchange.Slot{Number: s.Slot, Message: s.Messages}
	var number int
	if k.Sent {
		read.Setting, number, read.Fault = d.SettingOf(s.Messages)
	} else if number, read.Memory, read.Fault = d.SlotMemory(s.Messages); read.Fault == nil {
		read.Setting, read.Fault = d.SlotSetting(read.Memory)
	}
	if read.Fault == nil && number != s.Slot {
		read.Fault = fmt.Errorf("its messages are of slot %d", number)
	}
	return read
}

// holdsSlot refuses a slot that is not in a snapshot.
func holdsSlot(s library.Snapshot, number int) error {
	if numbers := viewSnapshot(s).Slots; !slices.Contains(numbers, number) {
		return misused(fmt.Errorf("snapshot %q does not hold slot %d: it holds %s", s.Name, number, library.SlotWords(numbers)))
	}
	return nil
}

// find gives one slot of the snapshot, by its own profile.
func (k kept) find(number int) (exchange.Slot, error) {
	if err := holdsSlot(k.Snapshot, number); err != nil {
		return exchange.Slot{}, err
	}
	i := slices.IndexFunc(k.Slots, func(s library.SnapshotSlot) bool { return s.Slot == number })
	slot := k.slot(k.device, k.Slots[i])
	if slot.Fault != nil {
		return slot, fmt.Errorf("snapshot %q: slot %d: %w; its bytes are kept all the same", k.Name, number, slot.Fault)
	}
	return slot, nil
}

// slots is what each slot of the snapshot means to a device.
func (k kept) slots(d *profiles.Device) []exchange.Slot {
	all := make([]exchange.Slot, len(k.Slots))
	for i, s := range k.Slots {
		all[i] = k.slot(d, s)
	}
	return all
}
