// Package library turns a folder of plain files into a shelf: of units, of device
// profiles, of rigs, of set lists, of snapshots of device memories, and of what is
// under way on a device. A person can read the files, copy them and put them under
// version control:
//
//	units/saltmarsh-drum-1.toml        as it was added, comments and all
//	devices/my-delay.toml              profiles of one's own
//	rigs/left-rack.toml                a device on a port
//	songs/saltmarsh-evening.toml       a set list
//	snapshots/2026-03-14-193000-five-line/manifest.toml, profile.toml, slot-00.syx …
//	journal/2026-03-14-193100-five-line/intent.toml, profile.toml, slot-05.bin …
//	                                   what is being written to a device, until it is done
//	ports/7a0f….lock                   held while there is a conversation on a port
//	trash/units/saltmarsh-drum-1/…     what was removed or replaced: nothing but what is done in the journal is deleted
//	lock                               held while something is changed
//
// Every change is made whole or not at all, under a lock that other processes
// respect. Reading takes no lock: a file is always the old one or the new.
//
// Read shelf.go first, then snapshot.go and journal.go.
package library

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"echowright/preset"
	"echowright/preset/unitfile"
	"echowright/profiles"
)

// A Library is the shelf in one folder.
type Library struct {
	Units   *Shelf[preset.Unit]
	Devices *Shelf[*profiles.Device]
	Rigs    *Shelf[Rig]
	Songs   *Shelf[SongSheet]

	home string
	now  func() time.Time
}

// Open gives the library in the folder home, which is made when something is
// first put into it. Now is the clock that tells when things went to the trash.
func Open(home string, now func() time.Time) (*Library, error) {
	home, err := filepath.Abs(home)
	if err != nil {
		return nil, fmt.Errorf("library: %w", err)
	}
	info, err := os.Stat(home)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return nil, fmt.Errorf("library: %w; choose another folder with --home", err)
	case !info.IsDir():
		return nil, fmt.Errorf("library: %s is a file; choose a folder with --home", home)
	}
	l := &Library{home: home, now: now}
	l.Units = &Shelf[preset.Unit]{
		library: l, folder: "units", noun: "unit", lister: "library list",
		parse: unitfile.Parse, name: func(u preset.Unit) string { return u.Name },
	}
	l.Devices = &Shelf[*profiles.Device]{
		library: l, folder: "devices", noun: "device", lister: "device list",
		parse: profiles.Parse, name: func(d *profiles.Device) string { return d.Name },
	}
	l.Rigs = &Shelf[Rig]{
		library: l, folder: "rigs", noun: "rig", lister: "rig list",
		parse: ParseRig, name: func(r Rig) string { return r.Name },
	}
	l.Songs = &Shelf[SongSheet]{
		library: l, folder: "songs", noun: "song sheet", lister: "songs list",
		parse: ParseSongs, name: func(s SongSheet) string { return s.Name },
	}
	return l, nil
}

// Home is the folder of the library, as a whole path.
func (l *Library) Home() string { return l.home }
