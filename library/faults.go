package library

import (
	"fmt"
	"regexp"
	"time"

	"echowright/preset"
)

// Limits that keep a manifest within the size that is read again.
const (
	topSlot   = 1<<14 - 1 // what two bytes of a message can number
	mostSlots = 4096
	mostBytes = 1 << 20 // of one slot, or of the profile
	mostNote  = 16 << 10
)

// faults collects mistakes in the order in which they are found.
type faults struct{ found preset.FieldErrors }

func (f *faults) add(path, subject, format string, args ...any) {
	f.found = append(f.found, &preset.FieldError{Path: path, Subject: subject, Problem: fmt.Sprintf(format, args...)})
}

var sha256Pattern = regexp.MustCompile(`^[0-9a-f]{64}$`)

func (f *faults) checkSum(path, subject, sum string) {
	if !sha256Pattern.MatchString(sum) {
		f.add(path, subject, "%q: 64 lower-case hex digits", sum)
	}
}

// text refuses what could move a terminal's cursor.
func (f *faults) text(path, s, allowed string) {
	if !printable(s, allowed) || len(s) > mostNote {
		f.add(path, path, "is too long or holds a control character: write it anew")
	}
}

func (f *faults) within(path string, n, low, high int) {
	if n < low || n > high {
		f.add(path, path, "%d: must lie from %d to %d", n, low, high)
	}
}

func (f *faults) year(path string, t time.Time) {
	if y := t.Year(); y < 1980 || y > 9999 {
		f.add(path, path, "in the year %d: set the clock right", y)
	}
}

func (f *faults) slots(all []keptSlot, ending string) {
	if len(all) > mostSlots {
		f.add("slot", "slot", "stands %d times: %d at most", len(all), mostSlots)
	}
	for i, s := range all {
		f.slot(fmt.Sprintf("slot.%d.", i), s, ending)
	}
}

func (f *faults) slot(path string, s keptSlot, ending string) {
	subject := fmt.Sprintf("slot %d:", s.Slot)
	if s.Slot < 0 || s.Slot > topSlot {
		f.add(path+"slot", subject, "must lie from 0 to %d", topSlot)
	}
	if s.File != slotFile(s.Slot, ending) {
		f.add(path+"file", subject, "file %q: its name must be %q", s.File, slotFile(s.Slot, ending))
	}
	f.checkSum(path+"sha256", subject+" sha256", s.SHA256)
	if s.Bytes < 1 || s.Bytes > mostBytes {
		f.add(path+"bytes", subject, "has %d bytes: must lie from 1 to %d", s.Bytes, mostBytes)
	}
}
