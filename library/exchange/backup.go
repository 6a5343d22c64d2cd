package exchange

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"echowright/library"
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
	if o.Resume != "" {
		if err := b.goOn(o.Resume); err != nil {
			return b.done, err
		}
	}
	if err := s.checkSlots(b.asked); err != nil {
		return b.done, err
	}
	var err error
	if b.identity, err = s.identify(ctx, &b.done.Spent); err != nil {
		return b.done, err
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

// goOn takes over what an earlier backup has kept.
func (b *backup) goOn(name string) error {
	old, err := b.Shelf.Snapshot(name)
	switch {
	case err != nil:
		return err
	case old.Complete:
		return fmt.Errorf("snapshot %q is complete: there is nothing to go on with", name)
	case old.Device != b.Device.Name || old.ProfileSHA256 != b.Device.SHA256():
		return fmt.Errorf("snapshot %q is of another device, or was begun with another version of its profile: begin a new backup", name)
	}
	b.asked = old.Asked
	for _, slot := range old.Slots {
		b.have = append(b.have, slot.Slot)
		b.bytes += len(slot.Messages)
	}
	b.done.Slots = len(b.have)
	return nil
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
				return err
			}
		}
	}
	return b.put(ctx, true)
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
		b.done.Snapshot, err = b.Shelf.WriteSnapshot(ctx, first)
	} else {
		err = b.Shelf.GrowSnapshot(ctx, b.done.Snapshot, slots, complete)
	}
	if err != nil {
		return fmt.Errorf("keeping what the device holds: %w", err)
	}
	b.unkept, b.lastKept, b.done.Complete = nil, b.Now(), complete
	return nil
}

// brokenOff keeps what has been read before the backup ended, also after Ctrl-C.
func (b *backup) brokenOff(ctx context.Context, why error) error {
	if b.done.Slots == 0 {
		return fmt.Errorf("%w; nothing was kept", why)
	}
	if len(b.unkept) > 0 {
		if err := b.put(context.WithoutCancel(ctx), false); err != nil {
			return fmt.Errorf("%w; and %w", why, err)
		}
	}
	return &PartialError{Snapshot: b.done.Snapshot, Slots: b.done.Slots, Of: len(b.asked), Err: why}
}

// A PartialError says that a backup ended before all slots were read.
type PartialError struct {
	Snapshot  string // what is kept, marked partial
	Slots, Of int
	Err       error
}

func (e *PartialError) Error() string {
	return fmt.Sprintf("%v; %d of %d slots are kept in %s, which is marked partial: `echowright backup --resume` goes on with it", e.Err, e.Slots, e.Of, e.Snapshot)
}

func (e *PartialError) Unwrap() error { return e.Err }

// PartialBackup is the newest backup of this device that was not finished.
func (s *Session) PartialBackup() (string, error) {
	all, err := s.Shelf.Snapshots()
	if err != nil {
		return "", err
	}
	for _, e := range slices.Backward(all) {
		if e.Err == nil && !e.Snapshot.Complete && s.isOf(e.Snapshot) {
			return e.Name, nil
		}
	}
	return "", errors.New("no backup of this device was broken off: run backup without --resume")
}

// isOf reports whether a snapshot is of the device of this session. The port may
// have another name today.
func (s *Session) isOf(k library.Snapshot) bool {
	return k.Device == s.Device.Name && k.UnitNumber == s.Unit && k.Channel == s.Channel
}
