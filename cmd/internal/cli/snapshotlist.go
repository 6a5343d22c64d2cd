package cli

import (
	"fmt"
	"slices"
	"strings"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/midi/port/fileport"
)

// shownSnapshot is a snapshot as scripts get it.
type shownSnapshot struct {
	Name     string     `json:"name"`
	Device   string     `json:"device,omitempty"`
	Taken    string     `json:"taken,omitempty"`
	Port     string     `json:"port,omitempty"`
	Unit     int        `json:"unit"`
	Channel  int        `json:"channel,omitempty"`
	Note     string     `json:"note,omitempty"`
	Sent     bool       `json:"sent,omitempty"` // as last sent to a device that cannot be read
	Sealed   bool       `json:"sealed"`         // the manifest proves itself
	Complete bool       `json:"complete"`
	Asked    []int      `json:"asked,omitempty"` // while not complete
	Slots    []int      `json:"slots"`
	Content  []keptSlot `json:"slot,omitempty"`
	Error    string     `json:"error,omitempty"`
}

const timeFormat = "2006-01-02 15:04:05"

func viewSnapshot(s library.Snapshot) shownSnapshot {
	v := shownSnapshot{
		Name: s.Name, Device: s.Device, Taken: s.Taken.Format(timeFormat), Port: s.Port, Unit: s.UnitNumber, Channel: s.Channel, Note: s.Note,
		Sent: s.Sent, Sealed: s.Sealed, Complete: s.Complete, Asked: s.Asked, Slots: []int{},
	}
	for _, slot := range s.Slots {
		v.Slots = append(v.Slots, slot.Slot)
	}
	return v
}

// standing is a snapshot's worth in a word.
func (v shownSnapshot) standing() string {
	switch {
	case !v.Complete:
		return "partial"
	case v.Sent:
		return "last sent"
	}
	return "complete"
}

// howMany counts the slots: "3", or "3 of 64" where more were asked for.
func (v shownSnapshot) howMany() string {
	if v.Complete {
		return fmt.Sprint(len(v.Slots))
	}
	return fmt.Sprintf("%d of %d", len(v.Slots), len(v.Asked))
}

// missing are the slots that were asked for and are not there.
func (v shownSnapshot) missing() []int {
	return slices.DeleteFunc(slices.Clone(v.Asked), func(n int) bool { return slices.Contains(v.Slots, n) })
}

// origin says when and where the bytes come from.
func (v shownSnapshot) origin() string {
	path, inFile := strings.CutPrefix(v.Port, fileport.Scheme+":")
	switch {
	case v.Sent:
		return fmt.Sprintf("last sent %s to %s and not read: it never says what it holds", v.Taken, v.Port)
	case inFile:
		return fmt.Sprintf("filed %s, out of %s", v.Taken, path)
	}
	return fmt.Sprintf("taken %s on %s", v.Taken, v.Port)
}

// firstOf is the first of the mistakes in a snapshot's manifest, for a table.
func firstOf(name string, err error) string {
	first, more, _ := strings.Cut(err.Error(), "\n")
	if more == "" {
		return first
	}
	return fmt.Sprintf("%s; and more: `echowright snapshot check %s`", first, name)
}

func runSnapshotList(c *call) error {
	shelf, err := c.library()
	if err != nil {
		return err
	}
	entries, err := shelf.Snapshots()
	if err != nil {
		return err
	}
	all := []shownSnapshot{}
	t := ui.Table{Titles: []string{"snapshot", "device", "taken", ">slots", "", "note"}}
	for _, e := range entries {
		if e.Err != nil {
			all = append(all, shownSnapshot{Name: e.Name, Slots: []int{}, Error: e.Err.Error()})
			t.Add(e.Name, "", "", "", "unreadable", firstOf(e.Name, e.Err))
			continue
		}
		v := viewSnapshot(e.Snapshot)
		all = append(all, v)
		t.Add(v.Name, v.Device, v.Taken, v.howMany(), v.standing(), v.Note)
	}
	if c.json {
		return ui.JSON(c.out, map[string]any{"snapshot": all})
	}
	t.Print(c.out)
	return nil
}
