package library

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"echowright/preset"
)

// SongUnit gives the unit that a song names: "saltmarsh-drum-1" as it stands on the
// shelf, "saltmarsh-drum-1@2" as it was in its second revision. What was replaced or
// removed since is looked for in the trash, so a set sounds as it did when it was
// written down. A revision that there never was is a [NotFoundError].
func (l *Library) SongUnit(named string) (preset.Unit, error) {
	name, revision, err := splitRevision(named)
	if err != nil {
		return preset.Unit{}, err
	}
	now, err := l.Units.Get(name)
	if revision == 0 || err == nil && revision == now.Revision {
		return now.Value, err
	}
	var gone *NotFoundError
	if err != nil && !errors.As(err, &gone) && revision > l.trashed(l.Units.folder, name) {
		return preset.Unit{}, err // the one on the shelf is meant, and broken
	}
	return l.oldUnit(name, revision)
}

// splitRevision takes "NAME@3" apart; without a number it is 0.
func splitRevision(named string) (name string, revision int, err error) {
	name, number, ok := strings.Cut(named, "@")
	if !ok {
		return name, 0, preset.CheckName(name)
	}
	revision, err = strconv.Atoi(number)
	if err != nil || revision < 1 || strconv.Itoa(revision) != number {
		return "", 0, fmt.Errorf("%q: a revision is a number from 1 on, such as %s@1", named, name)
	}
	return name, revision, preset.CheckName(name)
}

// oldUnit is a revision that lies in the trash, where the first that was put there
// is the first there was.
func (l *Library) oldUnit(name string, revision int) (preset.Unit, error) {
	texts, err := l.trashedNames(l.Units.folder, name)
	if err != nil {
		return preset.Unit{}, err
	}
	if revision > len(texts) {
		last := len(texts)
		if now, err := l.Units.Get(name); err == nil {
			last = now.Revision
		}
		if last == 0 {
			return preset.Unit{}, l.Units.notFound(name)
		}
		return preset.Unit{}, &NotFoundError{
			Noun: l.Units.noun, Name: fmt.Sprintf("%s@%d", name, revision), Nearest: fmt.Sprintf("%s@%d", name, last), Lister: l.Units.lister,
		}
	}
	path := filepath.Join(l.trashFolder(l.Units.folder, name), texts[revision-1]+extension)
	text, err := readFile(path)
	if err != nil {
		return preset.Unit{}, fmt.Errorf("unit %q, revision %d: %w", name, revision, err)
	}
	return l.Units.parse(path, text)
}

// trashedNames lists the texts of a name that lie in the trash, oldest first.
func (l *Library) trashedNames(folder, name string) ([]string, error) {
	files, err := os.ReadDir(l.trashFolder(folder, name))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("looking into the trash: %w", err)
	}
	var names []string
	for _, f := range files {
		if stem, ok := strings.CutSuffix(f.Name(), extension); ok {
			names = append(names, stem)
		}
	}
	newestFirst(names)
	slices.Reverse(names)
	return names, nil
}
