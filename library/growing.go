package library

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"

	"echowright/library/wholefile"
)

// GrowSnapshot adds slots to a snapshot that is partial still, and marks it
// complete if that is asked for and all that was asked for is there, each byte
// as it was kept. A slot that it holds already stays as it is: other content for
// it is an error. On error the snapshot is as it was.
//
// The files of the slots are put on the disk first and the manifest last, each
// whole, so that at every moment readers find a valid snapshot: the old one or the
// new. A program killed in between leaves files without a line in the manifest;
// they are nobody's, and overwritten when their slots come again.
func (l *Library) GrowSnapshot(ctx context.Context, name string, more []SnapshotSlot, complete bool) error {
	if !l.hasSnapshot(name) {
		return l.noSnapshot(name)
	}
	return l.change(ctx, func() error { return l.grow(name, more, complete) })
}

// grow is GrowSnapshot under the lock.
func (l *Library) grow(name string, more []SnapshotSlot, complete bool) error {
	m, err := l.readManifest(name)
	if err != nil {
		return err
	}
	if m.Complete {
		return fmt.Errorf("snapshot %q is complete: begin another one for further slots", name)
	}
	more, err = m.lacking(more)
	if err == nil {
		err = m.take(more, complete)
	}
	if err != nil {
		return fmt.Errorf("snapshot %q: %w", name, err)
	}
	if err := l.putSlots(name, more); err != nil {
		return err
	}
	if complete {
		if _, _, err := l.snapshotFolder(name).readAll(m.ProfileSHA256, m.Slots); err != nil {
			return fmt.Errorf("it stays partial: %w", err)
		}
	}
	return wholefile.Write(filepath.Join(l.snapshotPath(name), manifestName), m.format(), 0o666)
}

// lacking are those of the slots that the snapshot does not hold yet.
func (m manifest) lacking(slots []SnapshotSlot) ([]SnapshotSlot, error) {
	var missing []SnapshotSlot
	for _, s := range slots {
		i := slices.IndexFunc(m.Slots, func(k keptSlot) bool { return k.Slot == s.Slot })
		switch {
		case i < 0:
			missing = append(missing, s)
		case m.Slots[i].SHA256 != hash(s.Messages):
			return nil, fmt.Errorf("slot %d is in it already, with other content: a snapshot's slots never change; begin another one", s.Slot)
		}
	}
	return missing, nil
}

// take adds the lines of slots, and makes the manifest complete if it is to be.
func (m *manifest) take(slots []SnapshotSlot, complete bool) error {
	for _, s := range slots {
		m.Slots = append(m.Slots, lineFor(s.Slot, snapshotEnding, s.Messages))
	}
	slices.SortFunc(m.Slots, func(a, b keptSlot) int { return a.Slot - b.Slot })
	if mistakes := m.mistakes(); len(mistakes) > 0 {
		return mistakes
	}
	if !complete {
		return nil
	}
	if missing := m.missing(); len(missing) > 0 {
		return fmt.Errorf("it is not complete: %s asked for, and not there; read what is missing first", SlotWords(missing))
	}
	m.Complete, m.Asked = true, nil
	return nil
}

// missing are the slots that were asked for and have no line.
func (m manifest) missing() []int {
	return slices.DeleteFunc(slices.Clone(m.Asked), func(n int) bool {
		return slices.ContainsFunc(m.Slots, func(s keptSlot) bool { return s.Slot == n })
	})
}

// putSlots writes the files of slots that have no line in the manifest yet.
func (l *Library) putSlots(name string, slots []SnapshotSlot) error {
	folder := l.snapshotPath(name)
	if err := wholefile.Clean(folder); err != nil {
		return err
	}
	for _, s := range slots {
		if err := wholefile.Write(filepath.Join(folder, slotFile(s.Slot, snapshotEnding)), s.Messages, 0o666); err != nil {
			return err
		}
	}
	return nil
}
