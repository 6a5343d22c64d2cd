package exchange

import (
	"bytes"
	"context"
	"fmt"
	"slices"

	"echowright/library"
	"echowright/profiles"
)

// A Placed slot is one of a snapshot and the slot of the device that it is for.
type Placed struct {
	From int // in the snapshot
	To   int // in the device
}

// RestoreOptions say how to put a snapshot back.
type RestoreOptions struct {
	All          bool // write slots also if they hold it already
	Force        bool // also a snapshot of another model, or taken with another version of the profile
	AllowRunaway bool // also settings whose loop grows with every turn
}

// A Change is a slot that a restore would alter.
type Change struct {
	Placed
	Now         Slot                  // nothing where the device cannot be read
	Memory      []byte                // what it is to hold
	Setting     profiles.Setting      // what that means, where it means anything
	Differences []profiles.Difference // nil where one of the two is no setting
}

// A Comparison is what a snapshot holds beside what the device holds.
type Comparison struct {
	Snapshot string
	Changes  []Change
	Same     []int // slots that hold it already
	Spent    Spent
	identity []byte
}

// A MismatchError refuses a snapshot that is of another model, or was taken with
// another version of the profile.
type MismatchError struct {
	Snapshot     string
	Of, Wanted   string // names of devices
	OtherProfile bool   // the same device, but its profile has changed since
}

func (e *MismatchError) Error() string {
	if e.OtherProfile {
		return e.mismatch() + ": nothing was written; the version used is kept in the snapshot as profile.toml, give it with --device, or --force the profile of today"
	}
	return e.mismatch() + ": nothing was written"
}

func (e *MismatchError) mismatch() string {
	if e.OtherProfile {
		return fmt.Sprintf("snapshot %q was taken with another version of the profile of %q", e.Snapshot, e.Wanted)
	}
	return fmt.Sprintf("snapshot %q is of device %q, not of %q", e.Snapshot, e.Of, e.Wanted)
}

// Compare reads the slots that a snapshot would be put back to and tells those
// that hold something else. The snapshot must be of this model and profile unless
// o says otherwise, and nothing else may be under way on this port.
func (s *Session) Compare(ctx context.Context, name string, places []Placed, o RestoreOptions) (Comparison, error) {
	c := Comparison{Snapshot: name}
	wanted, err := s.Wanted(name, places, o)
	if err != nil {
		return c, err
	}
	if err := s.checkOpen(); err != nil {
		return c, err
	}
	if c.identity, err = s.identify(ctx, &c.Spent); err != nil {
		return c, err
	}
	for i, w := range wanted {
		if s.Device.Readable() {
			if w.Now, err = s.readSlot(ctx, &c.Spent, w.To); err != nil {
				return c, err
			}
		}
		s.progress(i+1, len(places))
		if s.Device.Readable() && !o.All && bytes.Equal(w.Now.Memory, w.Memory) {
			c.Same = append(c.Same, w.To)
			continue
		}
		if s.Device.Readable() && w.Now.Fault == nil && w.Setting.Codes != nil {
			w.Differences = s.Device.Differences(w.Now.Setting, w.Setting)
		}
		c.Changes = append(c.Changes, w)
	}
	return c, nil
}

// Wanted takes out of a snapshot what slots would be made to hold, after making
// sure that it is whole, of this model and profile unless o says otherwise, and
// that no loop in it runs away. It needs no device: Device, Unit, Shelf and Warn of
// the session are enough.
func (s *Session) Wanted(name string, places []Placed, o RestoreOptions) ([]Change, error) {
	snapshot, err := s.Shelf.Snapshot(name)
	if err != nil {
		return nil, err
	}
	if err := s.matches(snapshot, o.Force); err != nil {
		return nil, err
	}
	taken, err := s.takenWith(snapshot)
	if err != nil {
		return nil, err
	}
	var all []Change
	for _, p := range places {
		if err := s.Device.CheckSlot(p.To); err != nil {
			return nil, err
		}
		change, err := s.changeTo(taken, snapshot, p)
		if err != nil {
			return nil, fmt.Errorf("snapshot %q: %w", name, err)
		}
		if err := s.canHold(change); err != nil {
			return nil, fmt.Errorf("snapshot %q: %w; nothing was written", name, err)
		}
		if change.Setting.Codes == nil {
			s.warn("slot %d is no setting: how its loop would ring cannot be worked out: turn everything down before it sounds", p.From)
		} else if err := s.CheckRunaway(p.To, change.Setting, o.AllowRunaway); err != nil {
			return nil, err
		}
		all = append(all, change)
	}
	return all, nil
}

// canHold refuses what the device could not be made to hold: a memory of another
// length, or one that means nothing where only parameters can be sent.
func (s *Session) canHold(c Change) error {
	if s.Device.Readable() {
		_, err := s.Device.WriteSlotSteps(s.Unit, c.To, c.Memory)
		return err
	}
	if c.Setting.Codes == nil {
		return fmt.Errorf("slot %d is no setting of device %q, and it takes nothing else", c.From, s.Device.Name)
	}
	return nil
}

func (s *Session) matches(k library.Snapshot, force bool) error {
	other := k.Device != s.Device.Name
	if !other && k.ProfileSHA256 == s.Device.SHA256() {
		return nil
	}
	e := &MismatchError{Snapshot: k.Name, Of: k.Device, Wanted: s.Device.Name, OtherProfile: !other}
	if !force {
		return e
	}
	s.warn("%s: forced all the same", e.mismatch())
	return nil
}

// takenWith is the device as the snapshot's own profile describes it.
func (s *Session) takenWith(k library.Snapshot) (*profiles.Device, error) {
	if k.ProfileSHA256 == s.Device.SHA256() {
		return s.Device, nil
	}
	d, err := profiles.Parse("profile.toml", k.Profile)
	if err != nil {
		return nil, fmt.Errorf("snapshot %q: the profile kept with it: %w", k.Name, err)
	}
	return d, nil
}

// changeTo is what a slot of a snapshot means for the device as it is described
// today.
func (s *Session) changeTo(taken *profiles.Device, k library.Snapshot, p Placed) (Change, error) {
	c := Change{Placed: p}
	i := slices.IndexFunc(k.Slots, func(slot library.SnapshotSlot) bool { return slot.Slot == p.From })
	if i < 0 {
		return c, fmt.Errorf("it does not hold slot %d", p.From)
	}
	messages := k.Slots[i].Messages
	if k.Sent {
		setting, _, err := taken.SettingOf(messages)
		if err != nil {
			return c, fmt.Errorf("slot %d: %w", p.From, err)
		}
		c.Setting = setting
		if err := s.Device.Check(setting); err != nil {
			return c, err
		}
		if s.Device.Readable() {
			c.Memory = s.Device.AppendSlot(nil, setting)
		}
		return c, nil
	}
	number, memory, err := taken.SlotMemory(messages)
	if err != nil {
		return c, fmt.Errorf("slot %d: %w", p.From, err)
	}
	if number != p.From {
		return c, fmt.Errorf("slot %d: its messages are of slot %d", p.From, number)
	}
	c.Memory = memory
	if setting, err := s.Device.SlotSetting(memory); err == nil {
		c.Setting = setting
	}
	return c, nil
}
