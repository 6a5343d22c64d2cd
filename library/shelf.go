package library

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"echowright/library/wholefile"
	"echowright/preset"
	"echowright/preset/nearest"
)

// A Shelf holds files of one kind, each called after what is in it.
type Shelf[T any] struct {
	library *Library
	folder  string
	noun    string
	lister  string // the command that shows what is there
	parse   func(file string, text []byte) (T, error)
	name    func(T) string
}

// An Entry is one file of a shelf.
type Entry[T any] struct {
	Name string
	Path string
	Text []byte // of the file, as it was added
	// Revision counts the texts that the name has had: 1, and 1 more for each
	// that was replaced or removed and so lies in the trash.
	Revision int
	Value    T
	Err      error // why Value is nothing, if the file is broken
}

const (
	extension = ".toml"
	// One byte more than the largest text of any kind: it is seen to be too large.
	textLimit = 1<<20 + 1
)

// Add puts text on the shelf, under the name that it holds itself and byte for
// byte as it is, if it is valid. File is where it comes from, for errors. If the
// name is taken, it is an [ExistsError] unless replace is asked for; then the old
// text goes to the trash.
func (s *Shelf[T]) Add(ctx context.Context, file string, text []byte, replace bool) (Entry[T], error) {
	value, err := s.parse(file, text)
	if err != nil {
		return Entry[T]{}, err
	}
	name := s.name(value)
	if err := checkName(name); err != nil {
		return Entry[T]{}, fmt.Errorf("%s: name %w", file, err)
	}
	err = s.library.change(ctx, func() error { return s.put(name, text, replace) })
	if err != nil {
		return Entry[T]{}, err
	}
	return s.Get(name)
}

// put is Add under the lock.
func (s *Shelf[T]) put(name string, text []byte, replace bool) error {
	path := s.path(name)
	folder := filepath.Dir(path)
	if err := wholefile.MakeFolder(folder); err != nil {
		return err
	}
	if err := wholefile.Clean(folder); err != nil {
		return err
	}
	old, err := readFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return wholefile.Create(path, text, 0o666)
	case err != nil:
		return fmt.Errorf("reading what is there: %w", err)
	case !replace:
		return &ExistsError{Noun: s.noun, Name: name, Path: path}
	case bytes.Equal(old, text):
		return nil
	}
	// A copy first: at no moment is the name without a text.
	trash, err := s.library.trashPath(s.folder, name)
	if err != nil {
		return err
	}
	if err := wholefile.Create(trash, old, 0o666); err != nil {
		return err
	}
	return wholefile.Write(path, text, 0o666)
}

// Get gives what stands on the shelf under that name, or a [NotFoundError]. A
// broken file is an error.
func (s *Shelf[T]) Get(name string) (Entry[T], error) {
	e := s.read(name)
	if errors.Is(e.Err, fs.ErrNotExist) {
		return Entry[T]{}, s.notFound(name)
	}
	return e, e.Err
}

// List gives all that is on the shelf, sorted by name, broken files with their
// error among the others.
func (s *Shelf[T]) List() ([]Entry[T], error) {
	names, err := s.Names()
	if err != nil {
		return nil, err
	}
	var all []Entry[T]
	for _, name := range names {
		if e := s.read(name); !errors.Is(e.Err, fs.ErrNotExist) { // removed since
			all = append(all, e)
		}
	}
	return all, nil
}

// Names lists what is on the shelf without reading it, sorted.
func (s *Shelf[T]) Names() ([]string, error) {
	files, err := os.ReadDir(filepath.Join(s.library.home, s.folder))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("listing the library: %w", err)
	}
	var names []string
	for _, f := range files {
		if name, ok := strings.CutSuffix(f.Name(), extension); ok && !strings.HasPrefix(name, ".") {
			names = append(names, name)
		}
	}
	slices.Sort(names) // as names, not as file names: a before a-b
	return names, nil
}

// Remove moves what stands under that name to the trash, broken or not, and
// gives the path where it lies now.
func (s *Shelf[T]) Remove(ctx context.Context, name string) (trashed string, err error) {
	if err := checkName(name); err != nil {
		return "", s.notFound(name)
	}
	err = s.library.change(ctx, func() error {
		trashed, err = s.discard(name)
		return err
	})
	return trashed, err
}

func (s *Shelf[T]) discard(name string) (trashed string, err error) {
	path := s.path(name)
	if _, err := os.Lstat(path); errors.Is(err, fs.ErrNotExist) {
		return "", s.notFound(name)
	}
	trash, err := s.library.trashPath(s.folder, name)
	if err != nil {
		return "", err
	}
	if err := wholefile.Move(path, trash); err != nil {
		return "", fmt.Errorf("moving %s %q to the trash: %w", s.noun, name, err)
	}
	return trash, nil
}

func (s *Shelf[T]) path(name string) string {
	return filepath.Join(s.library.home, s.folder, name+extension)
}

// read gives an entry whose Err tells what is wrong with it, if anything.
func (s *Shelf[T]) read(name string) Entry[T] {
	e := Entry[T]{Name: name}
	if err := checkName(name); err != nil {
		// No such file may be looked for: the name could lead anywhere.
		e.Err = fmt.Errorf("%s %w: %w", s.noun, err, fs.ErrNotExist)
		if listed, _ := s.Names(); slices.Contains(listed, name) {
			e.Err = fmt.Errorf("%s %w; rename the file", s.noun, err)
		}
		return e
	}
	e.Path = s.path(name)
	if e.Text, e.Err = readFile(e.Path); e.Err != nil {
		return e
	}
	if e.Value, e.Err = s.parse(e.Path, e.Text); e.Err != nil {
		return e
	}
	if inside := s.name(e.Value); inside != name {
		e.Err = fmt.Errorf("%s: holds the %s %q; rename the file to %s%s, or change the name in it", e.Path, s.noun, inside, inside, extension)
		return e
	}
	e.Revision = 1 + s.library.trashed(s.folder, name)
	return e
}

// readFile reads a file that is a plain one: a pipe would never end.
func readFile(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s: is no plain file; put it elsewhere", path)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, textLimit))
}

func (s *Shelf[T]) notFound(name string) error {
	names, _ := s.Names() // only for the hint
	return &NotFoundError{Noun: s.noun, Name: name, Nearest: nearest.Name(name, names), Lister: s.lister}
}

// A NotFoundError says that nothing of that name is in the library.
type NotFoundError struct {
	Noun    string // "unit", "device", "rig", "snapshot" or "intent"
	Name    string
	Nearest string // "" if none is near
	Lister  string // the command that lists what there is
}

func (e *NotFoundError) Error() string {
	if e.Nearest != "" {
		return fmt.Sprintf("no %s %q in the library: did you mean %q?", e.Noun, e.Name, e.Nearest)
	}
	return fmt.Sprintf("no %s %q in the library: `echowright %s` shows those there are", e.Noun, e.Name, e.Lister)
}

// An ExistsError says that the name is taken.
type ExistsError struct {
	Noun, Name string
	Path       string
}

func (e *ExistsError) Error() string {
	return fmt.Sprintf("%s %q is in the library already (%s): choose another name, or ask to replace it", e.Noun, e.Name, e.Path)
}

// reserved are names that some system keeps for its devices, with any ending.
var reserved = []string{"con", "prn", "aux", "nul"}

// checkName is [preset.CheckName] and what file systems ask for besides.
func checkName(name string) error {
	if err := preset.CheckName(name); err != nil {
		return err
	}
	stem, _, _ := strings.Cut(name, ".")
	port := len(stem) == 4 && (strings.HasPrefix(stem, "com") || strings.HasPrefix(stem, "lpt")) && stem[3] >= '1' && stem[3] <= '9'
	if port || slices.Contains(reserved, stem) {
		return fmt.Errorf("%q: some systems keep that name for themselves; choose another", name)
	}
	return nil
}
