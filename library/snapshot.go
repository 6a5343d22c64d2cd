package library

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"echowright/preset"
	"echowright/preset/nearest"
)

// A Snapshot is what memories of a device held at some time: the device's own
// bytes, and all that is needed to understand them years later.
type Snapshot struct {
	Name          string // given by WriteSnapshot
	Device        string // name of the device profile
	ProfileSHA256 string // of Profile, 64 lower-case hex digits; found by WriteSnapshot
	Profile       []byte // the text of the profile, as it was
	Port          string
	UnitNumber    int    // 0 to 127
	Channel       int    // 1 to 16; 0 where the device has none apart from its unit number
	Identity      []byte // the device's answer to who it is; nil if it has none
	Taken         time.Time
	Note          string
	Sent          bool  // the messages are what was last sent to a device that cannot be read
	Sealed        bool  // its manifest proves itself; one that does not was changed by hand, or is older than such proofs
	Complete      bool  // all that was asked for is here
	Asked         []int // the slots that were asked for, lowest first; only while not Complete
	Slots         []SnapshotSlot
}

// A SnapshotSlot is the content of one memory: the messages in which the device
// sent it, or in which it was sent to a device that cannot be read.
type SnapshotSlot struct {
	Slot     int
	Messages []byte
}

// A SnapshotEntry is a snapshot in a list: its manifest, or why it cannot be read.
// Profile and Messages are left out.
type SnapshotEntry struct {
	Name     string
	Path     string
	Snapshot Snapshot
	Err      error
}

const (
	manifestName   = "manifest.toml"
	profileName    = "profile.toml"
	snapshotEnding = ".syx" // of the files of its slots
)

// WriteSnapshot puts a snapshot on the disk, whole or not at all, and gives the
// name it has from then on: time and device, "2026-03-14-193000-five-line". When
// it returns without error the snapshot survives a power cut.
func (l *Library) WriteSnapshot(ctx context.Context, s Snapshot) (name string, err error) {
	s.ProfileSHA256, err = checkProfile(s.Profile, s.ProfileSHA256)
	if err != nil {
		return "", fmt.Errorf("snapshot cannot be written: %w", err)
	}
	s.Slots, s.Asked = slices.Clone(s.Slots), slices.Clone(s.Asked)
	slices.SortFunc(s.Slots, bySlot)
	slices.Sort(s.Asked)
	m := manifestOf(s)
	if mistakes := m.mistakes(); len(mistakes) > 0 {
		return "", fmt.Errorf("snapshot cannot be written: %w", mistakes)
	}
	files := map[string][]byte{manifestName: m.format(), profileName: s.Profile}
	for _, slot := range s.Slots {
		files[slotFile(slot.Slot, snapshotEnding)] = slot.Messages
	}
	err = l.change(ctx, func() error {
		name, err = putFolder(l.snapshotPath(""), folderName(s.Taken, s.Device), files)
		return err
	})
	return name, err
}

func bySlot(a, b SnapshotSlot) int { return a.Slot - b.Slot }

func (l *Library) snapshotPath(name string) string {
	return filepath.Join(l.home, "snapshots", name)
}

// Snapshots lists the snapshots, oldest first, broken ones among the others.
func (l *Library) Snapshots() ([]SnapshotEntry, error) {
	names, err := l.snapshotNames()
	if err != nil {
		return nil, err
	}
	all := make([]SnapshotEntry, len(names))
	for i, name := range names {
		m, err := l.readManifest(name)
		all[i] = SnapshotEntry{Name: name, Path: l.snapshotPath(name), Err: err}
		if err == nil {
			all[i].Snapshot = m.snapshot(name)
		}
	}
	return all, nil
}

func (l *Library) snapshotNames() ([]string, error) {
	names, err := foldersIn(l.snapshotPath(""))
	if err != nil {
		return nil, fmt.Errorf("listing the snapshots: %w", err)
	}
	return names, nil
}

func (l *Library) readManifest(name string) (manifest, error) {
	path := filepath.Join(l.snapshotPath(name), manifestName)
	text, err := readFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return manifest{}, l.snapshotFolder(name).damaged(manifestName, "is missing")
	}
	if err != nil {
		return manifest{}, fmt.Errorf("snapshot %q: %w", name, err)
	}
	m, err := parseManifest(path, text)
	if err != nil {
		return manifest{}, err
	}
	return m, l.snapshotFolder(name).checkSeal(manifestName, text, m.OwnSHA256)
}

// Snapshot reads a snapshot and checks every byte of it against the manifest.
// Without one of that name the error is a [NotFoundError], with a single wrong
// byte it holds a [DamagedError].
func (l *Library) Snapshot(name string) (Snapshot, error) {
	if !l.hasSnapshot(name) {
		return Snapshot{}, l.noSnapshot(name)
	}
	m, err := l.readManifest(name)
	if err != nil {
		return Snapshot{}, err
	}
	s := m.snapshot(name)
	profile, contents, err := l.snapshotFolder(name).readAll(m.ProfileSHA256, m.Slots)
	if err != nil {
		return Snapshot{}, err
	}
	s.Profile = profile
	for i, content := range contents {
		s.Slots[i].Messages = content
	}
	return s, nil
}

// hasSnapshot is whether there is something of that name. No name may lead elsewhere.
func (l *Library) hasSnapshot(name string) bool {
	if preset.CheckName(name) != nil {
		return false
	}
	_, err := os.Stat(l.snapshotPath(name))
	return !errors.Is(err, fs.ErrNotExist)
}

func (l *Library) snapshotFolder(name string) keptFolder {
	return keptFolder{noun: "snapshot", name: name, path: l.snapshotPath(name)}
}

// CheckSnapshot proves that a snapshot is as it was written, or tells everything
// that is not.
func (l *Library) CheckSnapshot(name string) error {
	_, err := l.Snapshot(name)
	return err
}

func (l *Library) noSnapshot(name string) error {
	names, _ := l.snapshotNames() // only for the hint
	if err := preset.CheckName(name); err != nil && slices.Contains(names, name) {
		return fmt.Errorf("snapshot: name %w; rename its folder, %s", err, l.snapshotPath(name))
	}
	return &NotFoundError{Noun: "snapshot", Name: name, Nearest: nearest.Name(name, names), Lister: "snapshot list"}
}
