package profiles

import (
	"embed"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"echowright/preset/nearest"
)

//go:embed *.toml
var shipped embed.FS

// Names lists the device profiles that are shipped, sorted.
func Names() []string {
	files, err := fs.Glob(shipped, "*.toml")
	if err != nil {
		return nil // the pattern is a constant: it cannot be bad
	}
	for i, f := range files {
		files[i] = strings.TrimSuffix(f, ".toml")
	}
	slices.Sort(files)
	return files
}

// An UnknownError says that there is no device of that name.
type UnknownError struct {
	Name    string
	Nearest string // "" if none is near
}

func (e *UnknownError) Error() string {
	if e.Nearest != "" {
		return fmt.Sprintf("no device %q: did you mean %q?", e.Name, e.Nearest)
	}
	return fmt.Sprintf("no device %q: `echowright device list` shows those there are", e.Name)
}

// Shipped is a device profile that comes with the program.
func Shipped(name string) (*Device, error) {
	if !slices.Contains(Names(), name) {
		return nil, &UnknownError{Name: name, Nearest: nearest.Name(name, Names())}
	}
	text, err := shipped.ReadFile(name + ".toml")
	if err != nil {
		return nil, fmt.Errorf("shipped device %q: %w", name, err)
	}
	return Parse(name+".toml", text)
}
