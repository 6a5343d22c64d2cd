package exchange

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"time"

	"echowright/library"
	"echowright/midi"
)

// BackedUp is what came of a backup. Its Bytes are those that are kept, not the
// few that were sent to ask for them.
type BackedUp struct {
	Snapshot string `json:"snapshot"`
	Slots    int    `json:"slots"`
	Complete bool   `json:"complete"`
	Spent
}

// BackupOptions say how to back up.
type BackupOptions struct {
	Resume string // a partial snapshot to go on with, "" to begin anew
}

// keepEvery is how much reading is lost at the most when the power fails.
const keepEvery = time.Second

// Backup reads slots and keeps them as one snapshot. What has been read is put on
// the disk once a second, as a snapshot that is marked partial; one that was not
// finished, for whatever reason, can be gone on with.
func (s *Session) Backup(ctx context.Context, numbers []int, o BackupOptions) (BackedUp, error) {
	b := backup{Session: s, done: BackedUp{Snapshot: o.Resume}, asked: numbers}
	var begun []byte
	var err error
	if o.Resume != "" {
		if begun, err = b.goOn(o.Resume); err != nil {
			return b.done, err
		}
	}
	if err := s.checkSlots(b.asked); err != nil {
		return b.done, err
	}
	if b.identity, err = s.identify(ctx, &b.done.Spent); err != nil {
		return b.done, err
	}
	if o.Resume != "" && !bytes.Equal(begun, b.identity) {
		return b.done, fmt.Errorf("snapshot %q was begun with a device that says of itself %s, and this one says %s: begin a new backup", o.Resume, midi.Hex(begun), midi.Hex(b.identity))
	}
	b.lastKept = s.Now()
	err = b.readAll(ctx)
	b.done.Bytes = b.bytes
	return b.done, err
}

// A backup is one under way.
type backup struct {
	*Session
	done     BackedUp
	asked    []int
	have     []int // slots that were kept before
	identity []byte
	unkept   []Slot // read, but not on the disk yet
	lastKept time.Time
	bytes    int
}

// goOn takes over what an earlier backup has kept, and gives what the device said
// of itself then.
func (b *backup) goOn(name string) (identity []byte, err error) {
	old, err := b.Shelf.Snapshot(name)
	switch {
	case err != nil:
		return nil, err
	case old.Complete:
		return nil, fmt.Errorf("snapshot %q is complete: there is nothing to go on with", name)
	case !b.isOf(old):
		return nil, fmt.Errorf("snapshot %q is of another device (%q, unit %d), this one is %q, unit %d: begin a new backup", name, old.Device, old.UnitNumber, b.Device.Name, b.Unit)
	case old.ProfileSHA256 != b.Device.SHA256():
		return nil, fmt.Errorf("snapshot %q was begun with another version of the profile of %q: begin a new backup", name, old.Device)
	}
	b.asked = old.Asked
	for _, slot := range old.Slots {
		b.have = append(b.have, slot.Slot)
		b.bytes += len(slot.Messages)
	}
	b.done.Slots = len(b.have)
	return old.Identity, nil
}

func (b *backup) readAll(ctx context.Context) error {
	for _, n := range b.asked {
		if slices.Contains(b.have, n) {
			continue
		}
		slot, err := b.readSlot(ctx, &b.done.Spent, n)
		if err != nil {
			return b.brokenOff(ctx, err)
		}
		if slot.Fault != nil {
			b.warn("slot %d: %v; its bytes are kept as they came", slot.Number, slot.Fault)
		}
		b.unkept = append(b.unkept, slot)
		b.done.Slots++
		b.bytes += len(slot.Message)
		b.progress(b.done.Slots, len(b.asked))
		if b.Now().Sub(b.lastKept) >= keepEvery && b.done.Slots < len(b.asked) {
			if err := b.put(ctx, false); err != nil {
				return b.partial(err)
			}
		}
	}
	if err := b.put(ctx, true); err != nil {
		return b.partial(err)
	}
	return nil
}

// put puts on the disk what is not there yet.
func (b *backup) put(ctx context.Context, complete bool) error {
	slots := kept(b.unkept)
	var err error
	if b.done.Snapshot == "" {
		first := b.snapshot(slots, b.identity, "backup")
		if first.Complete = complete; !complete {
			first.Asked = b.asked
		}
		b.done.Snapshot, err = b.keeper().WriteSnapshot(ctx, first)
	} else {
		err = b.keeper().GrowSnapshot(ctx, b.done.Snapshot, slots, complete)
	}
	if err != nil {
		return fmt.Errorf("keeping what the device holds: %w", err)
	}
	b.unkept, b.lastKept, b.done.Complete = nil, b.Now(), complete
	return nil
}

// brokenOff keeps what has been read before the backup ended, also after Ctrl-C.
func (b *backup) brokenOff(ctx context.Context, why error) error {
	if len(b.unkept) > 0 {
		if err := b.put(context.WithoutCancel(ctx), false); err != nil {
			why = fmt.Errorf("%w; and %w", why, err)
		}
	}
	return b.partial(why)
}

// partial says what is on the disk of a backup that has ended.
func (b *backup) partial(why error) error {
	for _, slot := range b.unkept {
		b.bytes -= len(slot.Message)
	}
	b.done.Slots -= len(b.unkept)
	if b.done.Snapshot == "" {
		return fmt.Errorf("%w; nothing was kept", why)
	}
	return &PartialError{Snapshot: b.done.Snapshot, Slots: b.done.Slots, Of: len(b.asked), Target: b.Target(), Err: why}
}

// A PartialError says that a backup ended before all slots were read.
type PartialError struct {
	Snapshot  string // what is kept, marked partial
	Slots, Of int
	Target    string // the words of a command line that name the device
	Err       error
}

func (e *PartialError) Error() string {
	return fmt.Sprintf("%v; %d of %d slots are kept in %s, which is marked partial: `echowright backup %s --resume=%[4]s` goes on with it", e.Err, e.Slots, e.Of, e.Snapshot, e.Target)
}

func (e *PartialError) Unwrap() error { return e.Err }

// PartialBackup is the newest backup of this device, over this port, that was not
// finished. One over another port may be of another box of the same make: that
// must be named.
func (s *Session) PartialBackup() (string, error) {
	all, err := s.Shelf.Snapshots()
	if err != nil {
		return "", err
	}
	elsewhere := ""
	for _, e := range slices.Backward(all) {
		switch {
		case e.Err != nil || e.Snapshot.Complete || !s.isOf(e.Snapshot):
		case e.Snapshot.Port == s.Port:
			return e.Name, nil
		case elsewhere == "":
			elsewhere = fmt.Sprintf("; %s was broken off over %s: if that is the same box, give --resume=%[1]s", e.Name, e.Snapshot.Port)
		}
	}
	return "", fmt.Errorf("no backup of this device over %s was broken off: run backup without --resume%s", s.Port, elsewhere)
}

// isOf reports whether a snapshot is of a device such as the one of this session.
func (s *Session) isOf(k library.Snapshot) bool {
	return k.Device == s.Device.Name && k.UnitNumber == s.Unit && k.Channel == s.Channel
}
