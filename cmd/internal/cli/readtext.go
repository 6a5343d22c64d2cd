package cli

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
)

// textLimit is one byte more than the largest profile or unit file that is
// read, so that a larger one is still seen to be too large.
const textLimit = 1<<20 + 1

// readText reads a file that somebody wrote.
func readText(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fileError(path, err)
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, textLimit))
	if err != nil {
		return nil, fileError(path, err)
	}
	return text, nil
}

// fileError says of a file that could not be read what to do about it.
func fileError(path string, err error) error {
	var at *fs.PathError
	if errors.As(err, &at) {
		err = at.Err // without the path, which is said here
	}
	next := "check the path"
	switch {
	case errors.Is(err, fs.ErrNotExist):
		next = "check the path and its spelling"
	case errors.Is(err, fs.ErrPermission):
		next = "you need to be allowed to read it"
	}
	return fmt.Errorf("file %s: %w; %s", path, err, next)
}

// isFile reports whether a name on the command line means a file and not a name
// of the library: those never hold a slash and never end in .toml.
func isFile(name string) bool {
	return strings.ContainsAny(name, `/\`) || strings.HasSuffix(name, ".toml")
}
