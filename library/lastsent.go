package library

import (
	"bytes"
	"errors"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// AnyPort stands for a port of whatever name.
const AnyPort = ""

// LastSent is the newest snapshot of what was sent to a device that cannot be
// read, of that device, port, unit number and channel, that holds the slot; false
// if there is none. A newer one that is damaged is an error: what it held may have
// been sent later, and nobody is to take something older for the last.
func (l *Library) LastSent(device, port string, unit, channel, slot int) (Snapshot, bool, error) {
	names, err := l.snapshotNames()
	if err != nil {
		return Snapshot{}, false, err
	}
	newestFirst(names)
	var last manifest
	found := ""
	for _, name := range names {
		if found != "" && name < earliestName(last.Taken) {
			break
		}
		m, err := l.readSent(name, device)
		if err != nil {
			return Snapshot{}, false, err
		}
		wanted := m.Sent && m.Device == device && (port == AnyPort || m.Port == port) && m.Unit == unit && m.Channel == channel && m.holds(slot)
		if wanted && (found == "" || m.Taken.After(last.Taken)) {
			found, last = name, m
		}
	}
	if found == "" {
		return Snapshot{}, false, nil
	}
	s, err := l.Snapshot(found)
	return s, err == nil, err
}

func (m manifest) holds(slot int) bool {
	return slices.ContainsFunc(m.Slots, func(s keptSlot) bool { return s.Slot == slot })
}

// readSent reads the manifest of a snapshot that may be of what was sent to the
// device; of any other it gives nothing. Most are passed over by a look for the
// words that such a manifest must hold, if it is intact: parsing takes ten times as long.
func (l *Library) readSent(name, device string) (manifest, error) {
	path := filepath.Join(l.snapshotPath(name), manifestName)
	text, err := readFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return manifest{}, nil // nothing was kept under that name, or it was taken away since
	}
	if err == nil && intact(text) && !(bytes.Contains(text, []byte("sent = true")) && bytes.Contains(text, []byte(device))) {
		return manifest{}, nil
	}
	return l.readManifest(name)
}

// newestFirst sorts names of snapshots by the times that they begin with; of one
// second, "-10" was given after "-9".
func newestFirst(names []string) {
	slices.SortFunc(names, func(a, b string) int {
		timeA, timeB := a[:min(len(a), len(stamp))], b[:min(len(b), len(stamp))]
		if c := strings.Compare(timeB, timeA); c != 0 {
			return c
		}
		if c := len(b) - len(a); c != 0 {
			return c
		}
		return strings.Compare(b, a)
	})
}

// earliestName is before the name of any snapshot that was taken after t. Names
// tell the time of the place where they were given; no clock on earth is more
// than 12 hours behind UTC.
func earliestName(t time.Time) string { return t.UTC().Add(-12 * time.Hour).Format(stamp) }
