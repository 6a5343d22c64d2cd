package library

import (
	"context"
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

// An Intent is what is about to be written to a device. It is on the disk before
// the first byte leaves, and stays in the journal until the work is done or undone:
// whoever comes after a kill or a power cut finds in it what was under way, and
// all that is needed to finish it or to put everything back.
type Intent struct {
	Name          string    // given by Begin: time and device, like a snapshot's
	Doing         string    // "push", "restore": a word for people
	Note          string    // for people: "saltmarsh-drum-1 into slot 5"
	Device        string    // name of the device profile
	Profile       []byte    // the text of the profile, as it was
	ProfileSHA256 string    // of Profile, 64 lower-case hex digits; found by Begin
	Port          string    // as --port takes it
	Rig           string    // "" where none was used
	UnitNumber    int       // 0 to 127
	Channel       int       // 1 to 16; 0 where the device has none apart from its unit number
	Began         time.Time // when the writing was about to begin
	Snapshot      string    // name of the snapshot that holds what the slots held before; "" where nothing was known
	ReadBack      bool      // the device can be read: Content is memories; else Content is the messages that are sent
	Slots         []IntentSlot
}

// An IntentSlot is what a slot is to hold. The slots of an intent stand in the
// order in which they are written.
type IntentSlot struct {
	Slot    int
	Content []byte
}

// An IntentEntry is an intent in a list. Where Err is not nil, Intent holds what
// intent.toml tells for people, as far as it can be read, without Profile and Content.
type IntentEntry struct {
	Name   string
	Path   string
	Intent Intent
	Err    error
}

// Begin puts an intent on the disk, whole or not at all, and gives the name it has
// from then on. When it returns without error the intent survives a power cut, and
// the first byte may leave.
func (l *Library) Begin(ctx context.Context, i Intent) (name string, err error) {
	i.ProfileSHA256, err = checkProfile(i.Profile, i.ProfileSHA256)
	if err != nil {
		return "", fmt.Errorf("intent cannot be written: %w", err)
	}
	m := intentFileOf(i)
	if mistakes := m.mistakes(); len(mistakes) > 0 {
		return "", fmt.Errorf("intent cannot be written: %w", mistakes)
	}
	files := map[string][]byte{intentName: m.format(), profileName: i.Profile}
	for _, s := range i.Slots {
		files[slotFile(s.Slot, intentEnding)] = s.Content
	}
	err = l.change(ctx, func() error {
		name, err = putFolder(l.intentPath(""), folderName(i.Began, i.Device), files)
		return err
	})
	return name, err
}

// Finish takes an intent away for good, damaged or not: what it was about is done,
// or undone, or given up, and what the slots held before is in its snapshot. On
// error it is in the journal as before. Without one of that name the error is a
// [NotFoundError].
func (l *Library) Finish(ctx context.Context, name string) error {
	if !l.hasIntent(name) {
		return l.noIntent(name)
	}
	return l.change(ctx, func() error {
		if !l.hasIntent(name) { // somebody else was quicker
			return l.noIntent(name)
		}
		if err := wholefile.Remove(l.intentPath(name)); err != nil {
			return fmt.Errorf("finishing intent %q: %w", name, err)
		}
		return nil
	})
}

// Intent reads an intent and checks every byte of it. Without one of that name
// the error is a [NotFoundError], with a single wrong byte it holds a [DamagedError]
// or says what is wrong with intent.toml.
func (l *Library) Intent(name string) (Intent, error) {
	e := l.readIntent(name)
	if e.Err != nil {
		return Intent{}, e.Err
	}
	return e.Intent, nil
}

// Intents lists what was begun and not finished, oldest first and broken ones
// before all others: nobody knows how old they are. Where nothing is under way it
// takes one look at a folder.
func (l *Library) Intents() ([]IntentEntry, error) {
	names, err := foldersIn(l.intentPath(""))
	if err != nil {
		return nil, fmt.Errorf("looking for what is under way: %w", err)
	}
	var all []IntentEntry
	for _, name := range names {
		if err := preset.CheckName(name); err != nil {
			all = append(all, IntentEntry{Name: name, Path: l.intentPath(name), Err: fmt.Errorf("intent %w; rename its folder", err)})
			continue
		}
		e := l.readIntent(name)
		var gone *NotFoundError
		if errors.As(e.Err, &gone) { // finished since
			continue
		}
		all = append(all, e)
	}
	slices.SortStableFunc(all, func(a, b IntentEntry) int { return a.Intent.Began.Compare(b.Intent.Began) })
	return all, nil
}

func (l *Library) readIntent(name string) IntentEntry {
	e := IntentEntry{Name: name}
	if !l.hasIntent(name) {
		e.Err = l.noIntent(name)
		return e
	}
	e.Path = l.intentPath(name)
	e.Intent, e.Err = l.loadIntent(name)
	var damaged *DamagedError
	if errors.As(e.Err, &damaged) { // or finished, and another of that name begun, while it was read
		e.Intent, e.Err = l.loadIntent(name)
	}
	if e.Err != nil && !l.hasIntent(name) { // finished while it was read
		e.Err = l.noIntent(name)
	}
	return e
}

// loadIntent gives what it could read beside an error.
func (l *Library) loadIntent(name string) (Intent, error) {
	folder := keptFolder{noun: "intent", name: name, path: l.intentPath(name)}
	path := filepath.Join(folder.path, intentName)
	text, err := readFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return Intent{}, folder.damaged(intentName, "is missing")
	}
	if err != nil {
		return Intent{}, fmt.Errorf("intent %q: %w", name, err)
	}
	m, err := parseIntent(path, text)
	if err != nil {
		return Intent{}, err
	}
	if err := folder.checkSeal(intentName, text, m.OwnSHA256); err != nil {
		return Intent{}, err
	}
	i := m.intent(name)
	profile, contents, err := folder.readAll(m.ProfileSHA256, m.Slots)
	if err != nil {
		return i, err
	}
	i.Profile = profile
	for n, content := range contents {
		i.Slots[n].Content = content
	}
	return i, nil
}

// hasIntent is whether there is a folder of that name in the journal. No name may
// lead elsewhere.
func (l *Library) hasIntent(name string) bool {
	if preset.CheckName(name) != nil {
		return false
	}
	info, err := os.Lstat(l.intentPath(name))
	if err != nil {
		return !errors.Is(err, fs.ErrNotExist) // what cannot be looked at may be there
	}
	return info.IsDir()
}

func (l *Library) intentPath(name string) string { return filepath.Join(l.home, "journal", name) }

func (l *Library) noIntent(name string) error {
	names, _ := foldersIn(l.intentPath("")) // only for the hint
	return &NotFoundError{Noun: "intent", Name: name, Nearest: nearest.Name(name, names), Lister: "resume --list"}
}

// foldersIn names the folders in a folder, but for hidden ones; none if it is not
// there.
func foldersIn(path string) ([]string, error) {
	entries, err := os.ReadDir(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	var names []string
	for _, e := range entries {
		if e.IsDir() && !strings.HasPrefix(e.Name(), ".") {
			names = append(names, e.Name())
		}
	}
	return names, nil
}
