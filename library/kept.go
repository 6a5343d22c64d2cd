package library

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"
	"time"

	"echowright/library/wholefile"
)

// A keptSlot is a line of a manifest: the file that holds what belongs to a slot,
// and the proof that it is still what was kept.
type keptSlot struct {
	Slot   int    `toml:"slot"`
	File   string `toml:"file"`
	SHA256 string `toml:"sha256"`
	Bytes  int    `toml:"bytes"`
}

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

// putFolder makes a folder of files within another, under the name that is wanted
// or that with the lowest number that is free, and gives the name. The library is
// locked by whoever calls it.
func putFolder(within, wanted string, files map[string][]byte) (name string, err error) {
	if err := wholefile.MakeFolder(within); err != nil {
		return "", err
	}
	if err := wholefile.Clean(within); err != nil {
		return "", err
	}
	path, err := unused(filepath.Join(within, wanted), "")
	if err != nil {
		return "", err
	}
	if err := wholefile.CreateFolder(path, files, 0o666); err != nil {
		return "", err
	}
	return filepath.Base(path), nil
}

// folderName is time and device: "2026-03-14-193000-five-line". It leaves room for
// "-9999" within the 64 letters of a name.
func folderName(t time.Time, device string) string {
	const room = 64 - len(stamp) - len("-") - len("-9999")
	device = device[:min(len(device), room)]
	return t.Format(stamp) + "-" + strings.TrimRight(device, "-_.")
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
