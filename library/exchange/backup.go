package exchange

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"

	"echowright/library"
	"echowright/profiles"
)

// BackedUp is what came of a backup. Its Bytes are those that are kept, not the
// few that were sent to ask for them.
type BackedUp struct {
	Snapshot string `json:"snapshot"`
	Slots    int    `json:"slots"`
	Spent
}

// AllSlots lists every slot of the device.
func (s *Session) AllSlots() []int {
	var all []int
	for n := s.Device.FirstSlot; n <= s.Device.LastSlot; n++ {
		all = append(all, n)
	}
	return all
}

// Backup reads slots and keeps them as one snapshot. If one cannot be read
// nothing is kept: a snapshot is whole or not there.
func (s *Session) Backup(ctx context.Context, numbers []int) (BackedUp, error) {
	var done BackedUp
	if err := s.checkSlots(numbers); err != nil {
		return done, err
	}
	identity, err := s.identify(ctx, &done.Spent)
	if err != nil {
		return done, err
	}
	slots, err := s.readSlots(ctx, &done.Spent, numbers)
	if err != nil {
		return done, err
	}
	done.Bytes = 0
	for _, slot := range slots {
		done.Bytes += len(slot.Message)
		if slot.Fault != nil {
			s.warn("slot %d: %v; its bytes are kept as they came", slot.Number, slot.Fault)
		}
	}
	done.Slots = len(slots)
	done.Snapshot, err = s.keep(ctx, slots, identity, "backup")
	return done, err
}

func (s *Session) checkSlots(numbers []int) error {
	if len(numbers) == 0 {
		return errors.New("no slot is named: give --slots 0-7, or none for all of them")
	}
	for _, n := range numbers {
		if err := s.Device.CheckSlot(n); err != nil {
			return err
		}
	}
	return nil
}

func (s *Session) readSlots(ctx context.Context, spent *Spent, numbers []int) ([]Slot, error) {
	var slots []Slot
	for i, n := range numbers {
		slot, err := s.readSlot(ctx, spent, n)
		if err != nil {
			return nil, err
		}
		slots = append(slots, slot)
		s.progress(i+1, len(numbers))
	}
	return slots, nil
}

// A Placed slot is one of a snapshot and the slot of the device that it is for.
type Placed struct {
	From int // in the snapshot
	To   int // in the device
}

// Restored is what came of putting a snapshot back.
type Restored struct {
	Snapshot string `json:"snapshot"` // what was overwritten, "" if nothing differed
	Written  []int  `json:"written"`
	Same     []int  `json:"same"` // slots that held it already
	Spent
}

// A Change is a slot that a restore would alter.
type Change struct {
	Placed
	Now         Slot
	Memory      []byte                // what it is to hold
	Differences []profiles.Difference // nil where one of the two is no setting
}

// Compare reads the slots that a snapshot would be put back to and tells those
// that hold something else. The snapshot must be of this model and profile.
func (s *Session) Compare(ctx context.Context, name string, places []Placed) (changes []Change, same []int, spent Spent, err error) {
	wanted, err := s.wanted(name, places)
	if err != nil {
		return nil, nil, spent, err
	}
	if _, err := s.identify(ctx, &spent); err != nil {
		return nil, nil, spent, err
	}
	for i, p := range places {
		now, err := s.readSlot(ctx, &spent, p.To)
		if err != nil {
			return nil, nil, spent, err
		}
		s.progress(i+1, len(places))
		if bytes.Equal(now.Memory, wanted[i].Memory) {
			same = append(same, p.To)
			continue
		}
		c := Change{Placed: p, Now: now, Memory: wanted[i].Memory}
		if now.Fault == nil && wanted[i].Fault == nil {
			c.Differences = s.Device.Differences(now.Setting, wanted[i].Setting)
		}
		changes = append(changes, c)
	}
	return changes, same, spent, nil
}

// wanted takes the memories out of a snapshot, after making sure that it is
// whole and of this device.
func (s *Session) wanted(name string, places []Placed) ([]Slot, error) {
	snapshot, err := s.Shelf.Snapshot(name)
	if err != nil {
		return nil, err
	}
	if snapshot.Device != s.Device.Name {
		return nil, fmt.Errorf("snapshot %q is of device %q, not of %q: nothing was written", name, snapshot.Device, s.Device.Name)
	}
	if snapshot.ProfileSHA256 != s.Device.SHA256() {
		return nil, fmt.Errorf("snapshot %q was taken with another version of the profile of %q: nothing was written; "+
			"the version used is kept in the snapshot as profile.toml, give it with --device", name, s.Device.Name)
	}
	var all []Slot
	for _, p := range places {
		if err := s.Device.CheckSlot(p.To); err != nil {
			return nil, err
		}
		slot, err := s.slotIn(snapshot, p.From)
		if err != nil {
			return nil, fmt.Errorf("snapshot %q: %w", name, err)
		}
		all = append(all, slot)
	}
	return all, nil
}

func (s *Session) slotIn(snapshot library.Snapshot, number int) (Slot, error) {
	i := slices.IndexFunc(snapshot.Slots, func(k library.SnapshotSlot) bool { return k.Slot == number })
	if i < 0 {
		return Slot{}, fmt.Errorf("it does not hold slot %d", number)
	}
	return s.slotOf(snapshot.Slots[i].Messages, number)
}

// Restore writes the changes that Compare told. What they overwrite is kept as a
// snapshot first, and each slot is read back. Where one holds something else in
// the end the error is a *DiffersError.
func (s *Session) Restore(ctx context.Context, from string, changes []Change) (Restored, error) {
	done := Restored{Written: []int{}, Same: []int{}}
	if len(changes) == 0 {
		return done, nil
	}
	var old []Slot
	for _, c := range changes {
		old = append(old, c.Now)
	}
	identity, err := s.identify(ctx, &done.Spent)
	if err != nil {
		return done, err
	}
	if done.Snapshot, err = s.keep(ctx, old, identity, "before putting back "+from); err != nil {
		return done, err
	}
	for i, c := range changes {
		if err := s.write(ctx, &done.Spent, c.To, c.Memory, done.Snapshot); err != nil {
			return done, err
		}
		if err := s.verifyMemory(ctx, &done, c); err != nil {
			return done, err
		}
		done.Written = append(done.Written, c.To)
		s.progress(i+1, len(changes))
	}
	return done, nil
}

func (s *Session) verifyMemory(ctx context.Context, done *Restored, c Change) error {
	now, err := s.readSlot(ctx, &done.Spent, c.To)
	if err != nil {
		return fmt.Errorf("slot %d was written, but could not be read back: %w; what it held before is kept as %s", c.To, err, done.Snapshot)
	}
	if bytes.Equal(now.Memory, c.Memory) {
		return nil
	}
	e := &DiffersError{Slot: c.To, Snapshot: done.Snapshot}
	if want, err := s.Device.SlotSetting(c.Memory); err == nil && now.Fault == nil {
		e.Differences = s.Device.Differences(want, now.Setting)
	}
	return e
}
