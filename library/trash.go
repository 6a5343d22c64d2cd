package library

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"echowright/library/wholefile"
)

// trashPath is an unused path for a text of that name that has served its time:
// trash/units/NAME/2026-03-14-193000.toml.
func (l *Library) trashPath(folder, name string) (string, error) {
	dir := l.trashFolder(folder, name)
	if err := wholefile.MakeFolder(dir); err != nil {
		return "", err
	}
	return unused(filepath.Join(dir, l.now().Format(stamp)), extension)
}

func (l *Library) trashFolder(folder, name string) string {
	return filepath.Join(l.home, "trash", folder, name)
}

// stamp is a time as it stands in file names.
const stamp = "2006-01-02-150405"

// unused is stem and ending with nothing between them, or the lowest "-2", "-3"
// … that is free.
func unused(stem, ending string) (string, error) {
	path := stem + ending
	for n := 2; ; n++ {
		_, err := os.Lstat(path)
		if errors.Is(err, fs.ErrNotExist) {
			return path, nil
		}
		if err != nil {
			return "", fmt.Errorf("looking for a free name: %w", err)
		}
		path = fmt.Sprintf("%s-%d%s", stem, n, ending)
	}
}

// trashed is how many texts of that name lie in the trash.
func (l *Library) trashed(folder, name string) int {
	files, err := os.ReadDir(l.trashFolder(folder, name))
	if err != nil {
		return 0 // mostly because nothing was ever thrown away
	}
	n := 0
	for _, f := range files {
		if strings.HasSuffix(f.Name(), extension) {
			n++
		}
	}
	return n
}
