package library

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"echowright/library/wholefile"
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
	Identity      []byte // the device's answer to who it is; nil if it has none
	Taken         time.Time
	Note          string
	Complete      bool // all that was asked for is here
	Slots         []SnapshotSlot
}

// A SnapshotSlot is the content of one memory: the messages in which the device
// sent it.
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
	manifestName = "manifest.toml"
	profileName  = "profile.toml"
)

// WriteSnapshot puts a snapshot on the disk, whole or not at all, and gives the
// name it has from then on: time and device, "2026-03-14-193000-five-line". When
// it returns without error the snapshot survives a power cut.
func (l *Library) WriteSnapshot(ctx context.Context, s Snapshot) (name string, err error) {
	sum := hash(s.Profile)
	if s.ProfileSHA256 != "" && s.ProfileSHA256 != sum {
		return "", fmt.Errorf("snapshot: the profile has the SHA-256 %s, not %s as stated", sum, s.ProfileSHA256)
	}
	s.ProfileSHA256 = sum
	s.Slots = slices.Clone(s.Slots)
	slices.SortFunc(s.Slots, func(a, b SnapshotSlot) int { return a.Slot - b.Slot })
	m := manifestOf(s)
	if mistakes := m.mistakes(); len(mistakes) > 0 {
		return "", fmt.Errorf("snapshot cannot be written: %w", mistakes)
	}
	if n := len(s.Profile); n == 0 || n > mostBytes {
		return "", fmt.Errorf("snapshot cannot be written: the profile has %d bytes: 1 to %d", n, mostBytes)
	}
	files := map[string][]byte{manifestName: m.format(), profileName: s.Profile}
	for _, slot := range s.Slots {
		files[slotFile(slot.Slot)] = slot.Messages
	}
	err = l.change(ctx, func() error {
		name, err = l.putSnapshot(snapshotName(s), files)
		return err
	})
	return name, err
}

// putSnapshot is WriteSnapshot under the lock.
func (l *Library) putSnapshot(wanted string, files map[string][]byte) (name string, err error) {
	folder := l.snapshotPath("")
	if err := wholefile.MakeFolder(folder); err != nil {
		return "", err
	}
	if err := wholefile.Clean(folder); err != nil {
		return "", err
	}
	path, err := unused(l.snapshotPath(wanted), "")
	if err != nil {
		return "", err
	}
	if err := wholefile.CreateFolder(path, files, 0o666); err != nil {
		return "", err
	}
	return filepath.Base(path), nil
}

// snapshotName leaves room for "-99" within the 64 letters of a name.
func snapshotName(s Snapshot) string {
	const room = 64 - len(stamp) - len("-") - len("-99")
	device := s.Device[:min(len(s.Device), room)]
	return s.Taken.Format(stamp) + "-" + strings.TrimRight(device, "-_.")
}

func slotFile(slot int) string { return fmt.Sprintf("slot-%02d.syx", slot) }

func (l *Library) snapshotPath(name string) string {
	return filepath.Join(l.home, "snapshots", name)
}

func hash(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
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
	entries, err := os.ReadDir(l.snapshotPath(""))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("listing the snapshots: %w", err)
	}
	var names []string
	for _, e := range entries {
		if e.IsDir() && !strings.HasPrefix(e.Name(), ".") {
			names = append(names, e.Name())
		}
	}
	return names, nil
}

func (l *Library) readManifest(name string) (manifest, error) {
	path := filepath.Join(l.snapshotPath(name), manifestName)
	text, err := readFile(path)
	if err != nil {
		return manifest{}, fmt.Errorf("snapshot %q: %w", name, err)
	}
	return parseManifest(path, text)
}

// Snapshot reads a snapshot and checks every byte of it against the manifest.
// Without one of that name the error is a [NotFoundError], with a single wrong
// byte it holds a [DamagedError].
func (l *Library) Snapshot(name string) (Snapshot, error) {
	if err := preset.CheckName(name); err != nil {
		return Snapshot{}, l.noSnapshot(name)
	}
	if _, err := os.Stat(l.snapshotPath(name)); errors.Is(err, fs.ErrNotExist) {
		return Snapshot{}, l.noSnapshot(name)
	}
	m, err := l.readManifest(name)
	if err != nil {
		return Snapshot{}, err
	}
	s := m.snapshot(name)
	var damage []error
	if s.Profile, err = l.readKept(name, profileName, m.ProfileSHA256, -1); err != nil {
		damage = append(damage, err)
	}
	for i, slot := range m.Slots {
		if s.Slots[i].Messages, err = l.readKept(name, slot.File, slot.SHA256, slot.Bytes); err != nil {
			damage = append(damage, err)
		}
	}
	if len(damage) > 0 {
		return Snapshot{}, errors.Join(damage...)
	}
	return s, nil
}

// CheckSnapshot proves that a snapshot is as it was written, or tells everything
// that is not.
func (l *Library) CheckSnapshot(name string) error {
	_, err := l.Snapshot(name)
	return err
}

// readKept reads a file of a snapshot; size −1 is not checked.
func (l *Library) readKept(name, file, sum string, size int) ([]byte, error) {
	damaged := func(problem string, args ...any) error {
		return &DamagedError{Snapshot: name, File: file, Problem: fmt.Sprintf(problem, args...)}
	}
	b, err := readFile(filepath.Join(l.snapshotPath(name), file))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, damaged("is missing")
	case err != nil:
		return nil, fmt.Errorf("snapshot %q: %w", name, err)
	case size >= 0 && len(b) != size:
		return nil, damaged("has %d bytes where %d were kept", len(b), size)
	case hash(b) != sum:
		return nil, damaged("has the SHA-256 %s where %s was kept", hash(b), sum)
	}
	return b, nil
}

func (l *Library) noSnapshot(name string) error {
	names, _ := l.snapshotNames() // only for the hint
	return &NotFoundError{Noun: "snapshot", Name: name, Nearest: nearest.Name(name, names), Lister: "snapshot list"}
}

// A DamagedError says that a file of a snapshot is not what was kept.
type DamagedError struct {
	Snapshot, File string
	Problem        string
}

func (e *DamagedError) Error() string {
	return fmt.Sprintf("snapshot %q: %s %s: take it from a copy of the library, or don't use it", e.Snapshot, e.File, e.Problem)
}
