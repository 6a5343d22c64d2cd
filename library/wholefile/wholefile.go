// Package wholefile turns bytes into a file, or a set of files into a folder,
// whole or not at all: whoever looks sees the old content or the new, also after
// the program was killed or the power failed in the middle.
//
// Everything is first written under another name in the same folder, put on the
// disk for certain, and then renamed. What a killed program leaves behind has a
// name beginning with [Prefix]: readers pass over it, [Clean] takes it away.
package wholefile

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
)

// Prefix begins the names of what is not yet whole.
const Prefix = ".partial-"

// Write makes data the content of the file at path, in place of what may be
// there. On error the file is as it was; only where the disk fails after the last
// step it may be the new one, whole but not certain to outlast a power cut. Perm
// is what the umask leaves of it.
func Write(path string, data []byte, perm fs.FileMode) error {
	return write(path, filledWith(data), perm, os.Rename)
}

// Stream is Write for content too long to be held in memory: fill writes it
// piece by piece. An error of fill's is one of writing.
func Stream(path string, perm fs.FileMode, fill func(io.Writer) error) error {
	return write(path, fill, perm, os.Rename)
}

// Create is Write for a file that must not be there yet; if it is, the error is
// [fs.ErrExist].
func Create(path string, data []byte, perm fs.FileMode) error {
	return write(path, filledWith(data), perm, renameNew)
}

// A filler writes the content of a file.
type filler func(io.Writer) error

func filledWith(data []byte) filler {
	return func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	}
}

func write(path string, fill filler, perm fs.FileMode, rename func(from, to string) error) error {
	temp := beside(path)
	err := writeSynced(temp, fill, perm)
	if err == nil {
		err = rename(temp, path)
	}
	if err != nil {
		os.Remove(temp) // after an error that is told already
		return Explain(path, err)
	}
	return Explain(path, syncFolder(filepath.Dir(path)))
}

// CreateFolder makes a folder at path with files in it, name to content. The
// folder must not be there yet; on error it is not there either.
func CreateFolder(path string, files map[string][]byte, perm fs.FileMode) error {
	if _, err := os.Lstat(path); err == nil { // renaming would replace an empty folder
		return Explain(path, fs.ErrExist)
	}
	temp := beside(path)
	err := fillFolder(temp, files, perm)
	if err == nil {
		err = renameSynced(temp, path)
	}
	if err != nil {
		os.RemoveAll(temp)
	}
	return Explain(path, err)
}

// renameSynced takes the renaming back if it is not certain to outlast a power cut.
func renameSynced(from, to string) error {
	if err := os.Rename(from, to); err != nil {
		return err
	}
	err := syncFolder(filepath.Dir(to))
	if err != nil {
		err = errors.Join(err, os.Rename(to, from))
	}
	return err
}

func fillFolder(folder string, files map[string][]byte, perm fs.FileMode) error {
	if err := os.Mkdir(folder, perm|0o111&(perm>>2)); err != nil { // whoever may read a folder may enter it
		return err
	}
	for name, data := range files {
		if err := writeSynced(filepath.Join(folder, name), filledWith(data), perm); err != nil {
			return err
		}
	}
	return syncFolder(folder)
}

// MakeFolder makes a folder, with those above it, that outlasts a power failure.
// One that is there already is left as it is.
func MakeFolder(path string) error {
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		return nil
	}
	above := filepath.Dir(path)
	if above != path {
		if err := MakeFolder(above); err != nil {
			return err
		}
	}
	// MkdirAll says more clearly than Mkdir where something else has the name.
	err := os.MkdirAll(path, 0o777)
	if errors.Is(err, fs.ErrNotExist) { // though the one above is there: it is none of a disk
		return fmt.Errorf("no folder can be made in %s: choose another place (%w)", above, err)
	}
	if err != nil {
		return Explain(path, err)
	}
	return Explain(path, syncFolder(above))
}

// beside is an unused name in the same folder, so that renaming stays within one
// file system.
func beside(path string) string {
	return filepath.Join(filepath.Dir(path), fmt.Sprintf("%s%016x", Prefix, rand.Uint64()))
}

func writeSynced(path string, fill filler, perm fs.FileMode) error {
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, perm)
	if err != nil {
		return err
	}
	err = fill(file)
	if err == nil {
		err = file.Sync()
	}
	return errors.Join(err, file.Close())
}

// renameNew renames without replacing: a second name for the file fails where
// there is one already. File systems without second names (FAT) leave a moment
// between looking and renaming; there the caller's lock has to do.
func renameNew(from, to string) error {
	err := os.Link(from, to)
	if err == nil {
		return os.Remove(from)
	}
	if errors.Is(err, fs.ErrExist) {
		return fs.ErrExist
	}
	if _, err := os.Lstat(to); err == nil {
		return fs.ErrExist
	}
	return os.Rename(from, to)
}

// syncFolder puts the names in a folder on the disk. Windows does so by itself
// and has no way to ask for it.
func syncFolder(folder string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	f, err := os.Open(folder)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// Remove takes a file or a folder with all in it away, whole or not at all: on
// error it is there as before.
func Remove(path string) error {
	temp := beside(path)
	if err := renameSynced(path, temp); err != nil {
		return Explain(path, err)
	}
	os.RemoveAll(temp) // what is left is hidden already, and Clean's
	return nil
}

// Move gives what lies at one path another, in the same file system, for certain:
// on error it may lie there already, but a power cut may bring it back.
func Move(from, to string) error {
	if err := os.Rename(from, to); err != nil {
		return Explain(to, err)
	}
	return Explain(to, errors.Join(syncFolder(filepath.Dir(to)), syncFolder(filepath.Dir(from))))
}

// hints are the next steps for what goes wrong with disks.
var hints = []struct {
	err  error
	next string
}{
	{fs.ErrExist, "choose another name"},
	{fs.ErrNotExist, "its folder is not there: make it"},
	{syscall.ENOSPC, "make room on the disk"},
	{syscall.EFBIG, "it is larger than this disk or account allows"},
	{syscall.EROFS, "the disk is read-only: choose another place, or mount it for writing"},
	{fs.ErrPermission, "ask for the right to write into that folder, or choose another place"},
	{syscall.ENOTDIR, "a folder in its path is a file: choose another place"},
}

// Explain makes an error of the system one that names the path once and says what
// to do; nil it leaves alone.
func Explain(path string, err error) error {
	if err == nil {
		return nil
	}
	var atPath *fs.PathError
	var atLink *os.LinkError
	switch { // their messages name the temporary file, which is gone
	case errors.As(err, &atPath):
		err = atPath.Err
	case errors.As(err, &atLink):
		err = atLink.Err
	}
	for _, h := range hints {
		if errors.Is(err, h.err) {
			return fmt.Errorf("writing %s: %w; %s", path, err, h.next)
		}
	}
	return fmt.Errorf("writing %s: %w", path, err)
}

// Clean removes what killed programs left in folder. Only who holds the lock on
// the folder may call it: another's work in progress looks the same. A folder
// that is not there is clean.
func Clean(folder string) error {
	entries, err := os.ReadDir(folder)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("looking for leftovers: %w", err)
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), Prefix) {
			if err := os.RemoveAll(filepath.Join(folder, e.Name())); err != nil {
				return fmt.Errorf("removing a leftover: %w", err)
			}
		}
	}
	return nil
}
