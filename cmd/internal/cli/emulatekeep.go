package cli

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"echowright/library/wholefile"
	"echowright/profiles/emulator"
)

// An unsavedError says that an emulated memory could not be written to its file.
type unsavedError struct{ err error }

func (e *unsavedError) Error() string {
	return fmt.Sprintf("keeping the memory: %v; make room, or choose another file for --keep", e.err)
}

func (e *unsavedError) Unwrap() error { return e.err }

// fillMemory gives a unit the memory in a file, and makes the file where there is none.
func fillMemory(file string, d *emulator.Unit) error {
	if file == "" {
		return nil
	}
	image, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) {
		return saveMemory(file, d.Image())
	}
	if err == nil {
		err = d.SetImage(image)
	}
	if err != nil {
		return fmt.Errorf("--keep %s: %w", file, err)
	}
	return nil
}

// saveMemory replaces the file as a whole; without a file it does nothing.
func saveMemory(file string, image []byte) error {
	if file == "" {
		return nil
	}
	if err := wholefile.Write(file, image, 0o666); err != nil {
		return &unsavedError{err}
	}
	return nil
}
