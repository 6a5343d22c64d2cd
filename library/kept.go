package library

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"regexp"

	"echowright/preset"
)

// A keptSlot is a line of a manifest: the file that holds what belongs to a slot,
// and the proof that it is still what was kept.
type keptSlot struct {
	Slot   int    `toml:"slot"`
	File   string `toml:"file"`
	SHA256 string `toml:"sha256"`
	Bytes  int    `toml:"bytes"`
}

// Limits that keep a manifest within the size that is read again.
const (
	topSlot   = 1<<14 - 1 // what two bytes of a message can number
	mostSlots = 4096
	mostBytes = 1 << 20 // of one slot, or of the profile
	mostNote  = 16 << 10
)

// slotFile names the file that holds a slot. Ending is what those of a snapshot or
// an intent end in.
func slotFile(slot int, ending string) string { return fmt.Sprintf("slot-%02d%s", slot, ending) }

// lineFor is the line for a slot that holds these bytes.
func lineFor(slot int, ending string, content []byte) keptSlot {
	return keptSlot{Slot: slot, File: slotFile(slot, ending), SHA256: hash(content), Bytes: len(content)}
}

func hash(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// A keptFolder is a folder with a manifest, and files that it proves.
type keptFolder struct {
	noun string // "snapshot" or "intent"
	name string
	path string
}

// read gives the content of a file, if it has the SHA-256 that was kept; size −1
// is not checked.
func (k keptFolder) read(file, sum string, size int) ([]byte, error) {
	b, err := readFile(filepath.Join(k.path, file))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, k.damaged(file, "is missing")
	case err != nil:
		return nil, fmt.Errorf("%s %q: %w", k.noun, k.name, err)
	case size >= 0 && len(b) != size:
		return nil, k.damaged(file, "has %d bytes where %d were kept", len(b), size)
	case hash(b) != sum:
		return nil, k.damaged(file, "has the SHA-256 %s where %s was kept", hash(b), sum)
	}
	return b, nil
}

// readAll gives the profile and what each slot holds; the error tells all that
// is damaged.
func (k keptFolder) readAll(profileSum string, slots []keptSlot) (profile []byte, contents [][]byte, err error) {
	profile, err = k.read(profileName, profileSum, -1)
	damage := []error{err}
	contents = make([][]byte, len(slots))
	for i, slot := range slots {
		contents[i], err = k.read(slot.File, slot.SHA256, slot.Bytes)
		damage = append(damage, err)
	}
	return profile, contents, errors.Join(damage...)
}

func (k keptFolder) damaged(file, problem string, args ...any) error {
	return &DamagedError{Noun: k.noun, Name: k.name, File: file, Problem: fmt.Sprintf(problem, args...)}
}

// A DamagedError says that a file of a snapshot or an intent is not what was kept.
type DamagedError struct {
	Noun    string // "snapshot" or "intent"
	Name    string
	File    string
	Problem string
}

func (e *DamagedError) Error() string {
	return fmt.Sprintf("%s %q: %s %s: take it from a copy of the library, or don't use it", e.Noun, e.Name, e.File, e.Problem)
}

// checkProfile finds the SHA-256 of a profile's text and compares it with the
// one that was stated, if any was.
func checkProfile(text []byte, stated string) (sum string, err error) {
	if n := len(text); n == 0 || n > mostBytes {
		return "", fmt.Errorf("the profile has %d bytes: 1 to %d", n, mostBytes)
	}
	sum = hash(text)
	if stated != "" && stated != sum {
		return "", fmt.Errorf("the profile has the SHA-256 %s, not %s as stated", sum, stated)
	}
	return sum, nil
}

// faults collects mistakes in the order in which they are found.
type faults struct{ found preset.FieldErrors }

func (f *faults) add(path, subject, format string, args ...any) {
	f.found = append(f.found, &preset.FieldError{Path: path, Subject: subject, Problem: fmt.Sprintf(format, args...)})
}

var sha256Pattern = regexp.MustCompile(`^[0-9a-f]{64}$`)

func (f *faults) checkSum(path, subject, sum string) {
	if !sha256Pattern.MatchString(sum) {
		f.add(path, subject, "%q: 64 lower-case hex digits", sum)
	}
}

// text refuses what could move a terminal's cursor.
func (f *faults) text(path, s, allowed string) {
	if !printable(s, allowed) || len(s) > mostNote {
		f.add(path, path, "is too long or holds a control character: write it anew")
	}
}

func (f *faults) within(path string, n, low, high int) {
	if n < low || n > high {
		f.add(path, path, "%d: must lie from %d to %d", n, low, high)
	}
}

func (f *faults) slots(all []keptSlot, ending string) {
	if len(all) > mostSlots {
		f.add("slot", "slot", "stands %d times: %d at most", len(all), mostSlots)
	}
	for i, s := range all {
		f.slot(fmt.Sprintf("slot.%d.", i), s, ending)
	}
}

func (f *faults) slot(path string, s keptSlot, ending string) {
	subject := fmt.Sprintf("slot %d:", s.Slot)
	if s.Slot < 0 || s.Slot > topSlot {
		f.add(path+"slot", subject, "must lie from 0 to %d", topSlot)
	}
	if s.File != slotFile(s.Slot, ending) {
		f.add(path+"file", subject, "file %q: its name must be %q", s.File, slotFile(s.Slot, ending))
	}
	f.checkSum(path+"sha256", subject+" sha256", s.SHA256)
	if s.Bytes < 1 || s.Bytes > mostBytes {
		f.add(path+"bytes", subject, "has %d bytes: must lie from 1 to %d", s.Bytes, mostBytes)
	}
}
