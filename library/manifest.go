package library

import (
	"encoding/hex"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"echowright/preset"
	"echowright/preset/stricttoml"
)

// A manifest says what a snapshot holds, and proves it.
type manifest struct {
	Device        string         `toml:"device"`
	ProfileSHA256 string         `toml:"profile_sha256"`
	Port          string         `toml:"port"`
	Unit          int            `toml:"unit"`
	Identity      hexBytes       `toml:"identity"`
	Taken         time.Time      `toml:"taken"`
	Note          string         `toml:"note"`
	Complete      bool           `toml:"complete"`
	Slots         []manifestSlot `toml:"slot"`
}

type manifestSlot struct {
	Slot   int    `toml:"slot"`
	File   string `toml:"file"`
	SHA256 string `toml:"sha256"`
	Bytes  int    `toml:"bytes"`
}

// hexBytes are written as "F0 7E 00".
type hexBytes []byte

func (h *hexBytes) UnmarshalText(text []byte) error {
	b, err := hex.DecodeString(strings.ReplaceAll(string(text), " ", ""))
	if err != nil {
		return fmt.Errorf("is not made of pairs of hex digits; write them as in \"F0 7E\"")
	}
	*h = b
	return nil
}

var manifestKind = stricttoml.Kind{Name: "snapshot", Version: 1, Limit: 1 << 20}

var manifestRequired = []string{
	"device", "profile_sha256", "port", "unit", "taken", "complete", "slot.*.slot", "slot.*.file", "slot.*.sha256", "slot.*.bytes",
}

// localZones are what the TOML library calls the zone of a time that was written
// without one.
var localZones = []string{"datetime-local", "date-local", "time-local"}

func parseManifest(file string, text []byte) (manifest, error) {
	var m manifest
	doc, err := manifestKind.Decode(file, text, &m)
	if err != nil {
		return manifest{}, err
	}
	if err := doc.Require(manifestRequired...); err != nil {
		return manifest{}, err
	}
	mistakes := m.mistakes()
	if slices.Contains(localZones, m.Taken.Location().String()) {
		mistakes = append(mistakes, &preset.FieldError{Path: "taken", Subject: "taken",
			Problem: "has no time zone: write it in full, such as 2026-03-14T19:30:00Z"})
	}
	if len(mistakes) > 0 {
		return manifest{}, doc.Locate(mistakes)
	}
	return m, nil
}

func manifestOf(s Snapshot) manifest {
	m := manifest{
		Device: s.Device, ProfileSHA256: s.ProfileSHA256, Port: s.Port, Unit: s.UnitNumber, Identity: s.Identity,
		Taken: s.Taken, Note: s.Note, Complete: s.Complete,
	}
	for _, slot := range s.Slots {
		m.Slots = append(m.Slots, manifestSlot{slot.Slot, slotFile(slot.Slot), hash(slot.Messages), len(slot.Messages)})
	}
	return m
}

// snapshot is what the manifest tells of a snapshot, without its bytes.
func (m manifest) snapshot(name string) Snapshot {
	s := Snapshot{
		Name: name, Device: m.Device, ProfileSHA256: m.ProfileSHA256, Port: m.Port, UnitNumber: m.Unit, Identity: m.Identity,
		Taken: m.Taken, Note: m.Note, Complete: m.Complete,
	}
	for _, slot := range m.Slots {
		s.Slots = append(s.Slots, SnapshotSlot{Slot: slot.Slot})
	}
	return s
}

func (m manifest) format() []byte {
	var b strings.Builder
	quote := stricttoml.Quote
	fmt.Fprintf(&b, "format = %s\ndevice = %s\nprofile_sha256 = %s\nport = %s\nunit = %d\n",
		quote(manifestKind.Format()), quote(m.Device), quote(m.ProfileSHA256), quote(m.Port), m.Unit)
	if len(m.Identity) > 0 {
		fmt.Fprintf(&b, "identity = \"% X\"\n", []byte(m.Identity))
	}
	fmt.Fprintf(&b, "taken = %s\n", m.Taken.Format(time.RFC3339Nano))
	if m.Note != "" {
		fmt.Fprintf(&b, "note = %s\n", quote(m.Note))
	}
	fmt.Fprintf(&b, "complete = %v\n", m.Complete)
	for _, s := range m.Slots {
		fmt.Fprintf(&b, "[[slot]]\nslot = %d\nfile = %s\nsha256 = %s\nbytes = %d\n", s.Slot, quote(s.File), quote(s.SHA256), s.Bytes)
	}
	return []byte(b.String())
}

var sha256Pattern = regexp.MustCompile(`^[0-9a-f]{64}$`)

// Limits that keep a manifest within the size that is read again.
const (
	topSlot   = 1<<14 - 1 // what two bytes of a message can number
	mostSlots = 4096
	mostBytes = 1 << 20 // of one slot, or of the profile
	mostNote  = 16 << 10
)

func (m manifest) mistakes() preset.FieldErrors {
	var f faults
	if err := preset.CheckName(m.Device); err != nil {
		f.add("device", "device", "%v", err)
	}
	f.checkSum("profile_sha256", "profile_sha256", m.ProfileSHA256)
	if !printable(m.Port, "") || len(m.Port) > mostNote {
		f.add("port", "port", "is too long or holds a control character: write it anew")
	}
	if !printable(m.Note, "\n\t") || len(m.Note) > mostNote {
		f.add("note", "note", "is too long or holds a control character: write it anew")
	}
	if m.Unit < 0 || m.Unit > 127 {
		f.add("unit", "unit", "%d: must lie from 0 to 127", m.Unit)
	}
	if y := m.Taken.Year(); y < 1980 || y > 9999 {
		f.add("taken", "taken", "in the year %d: set the clock right", y)
	}
	if len(m.Slots) > mostSlots {
		f.add("slot", "slot", "stands %d times: %d at most", len(m.Slots), mostSlots)
	}
	for i, s := range m.Slots {
		f.slot(fmt.Sprintf("slot.%d.", i), s)
		if i > 0 && s.Slot <= m.Slots[i-1].Slot {
			f.add(fmt.Sprintf("slot.%d.slot", i), fmt.Sprintf("slot %d:", s.Slot), "stands twice or after a higher one: each slot once, in order")
		}
	}
	return f.found
}

func (f *faults) slot(path string, s manifestSlot) {
	subject := fmt.Sprintf("slot %d:", s.Slot)
	if s.Slot < 0 || s.Slot > topSlot {
		f.add(path+"slot", subject, "must lie from 0 to %d", topSlot)
	}
	if s.File != slotFile(s.Slot) {
		f.add(path+"file", subject, "file %q: its name must be %q", s.File, slotFile(s.Slot))
	}
	f.checkSum(path+"sha256", subject+" sha256", s.SHA256)
	if s.Bytes < 1 || s.Bytes > mostBytes {
		f.add(path+"bytes", subject, "has %d bytes: must lie from 1 to %d", s.Bytes, mostBytes)
	}
}

func (f *faults) checkSum(path, subject, sum string) {
	if !sha256Pattern.MatchString(sum) {
		f.add(path, subject, "%q: 64 lower-case hex digits", sum)
	}
}

// faults collects mistakes in the order in which they are found.
type faults struct{ found preset.FieldErrors }

func (f *faults) add(path, subject, format string, args ...any) {
	f.found = append(f.found, &preset.FieldError{Path: path, Subject: subject, Problem: fmt.Sprintf(format, args...)})
}
