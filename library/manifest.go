package library

import (
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"time"

	"echowright/preset"
	"echowright/preset/stricttoml"
)

// A manifest says what a snapshot holds, and proves it. Snapshots from before
// there was own_sha256 lack it; whoever changes a manifest by hand, such as its
// note, takes that line out.
type manifest struct {
	OwnSHA256     string     `toml:"own_sha256"`
	Device        string     `toml:"device"`
	ProfileSHA256 string     `toml:"profile_sha256"`
	Port          string     `toml:"port"`
	Unit          int        `toml:"unit"`
	Channel       int        `toml:"channel"`
	Identity      hexBytes   `toml:"identity"`
	Taken         time.Time  `toml:"taken"`
	Note          string     `toml:"note"`
	Sent          bool       `toml:"sent"`
	Complete      bool       `toml:"complete"`
	Asked         []int      `toml:"asked"`
	Slots         []keptSlot `toml:"slot"`
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

func parseManifest(file string, text []byte) (manifest, error) {
	var m manifest
	doc, err := manifestKind.Decode(file, text, &m)
	if err != nil {
		return manifest{}, err
	}
	if err := doc.Require(manifestRequired...); err != nil {
		return manifest{}, err
	}
	mistakes := append(m.mistakes(), channelWritten(doc, m.Channel)...)
	mistakes = append(mistakes, withoutZone("taken", m.Taken)...)
	if len(mistakes) > 0 {
		return manifest{}, doc.Locate(mistakes)
	}
	return m, nil
}

// localZones are what the TOML library calls the zone of a time that was written
// without one.
var localZones = []string{"datetime-local", "date-local", "time-local"}

func withoutZone(key string, t time.Time) preset.FieldErrors {
	var f faults
	if slices.Contains(localZones, t.Location().String()) {
		f.add(key, key, "has no time zone: write it in full, such as 2026-03-14T19:30:00Z")
	}
	return f.found
}

// channelWritten refuses a channel 0 that stands in the file: none is said by
// leaving it out.
func channelWritten(doc *stricttoml.Document, channel int) preset.FieldErrors {
	var f faults
	if doc.Has("channel") && channel == 0 {
		f.add("channel", "channel", "0: must lie from 1 to 16")
	}
	return f.found
}

func manifestOf(s Snapshot) manifest {
	m := manifest{
		Device: s.Device, ProfileSHA256: s.ProfileSHA256, Port: s.Port, Unit: s.UnitNumber, Channel: s.Channel, Identity: s.Identity,
		Taken: s.Taken, Note: s.Note, Sent: s.Sent, Complete: s.Complete, Asked: s.Asked,
	}
	for _, slot := range s.Slots {
		m.Slots = append(m.Slots, lineFor(slot.Slot, snapshotEnding, slot.Messages))
	}
	return m
}

// snapshot is what the manifest tells of a snapshot, without its bytes.
func (m manifest) snapshot(name string) Snapshot {
	s := Snapshot{
		Name: name, Device: m.Device, ProfileSHA256: m.ProfileSHA256, Port: m.Port, UnitNumber: m.Unit, Channel: m.Channel, Identity: m.Identity,
		Taken: m.Taken, Note: m.Note, Sent: m.Sent, Sealed: m.OwnSHA256 != "", Complete: m.Complete, Asked: m.Asked,
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
	if m.Channel != 0 {
		fmt.Fprintf(&b, "channel = %d\n", m.Channel)
	}
	if len(m.Identity) > 0 {
		fmt.Fprintf(&b, "identity = \"% X\"\n", []byte(m.Identity))
	}
	fmt.Fprintf(&b, "taken = %s\n", m.Taken.Format(time.RFC3339Nano))
	if m.Note != "" {
		fmt.Fprintf(&b, "note = %s\n", quote(m.Note))
	}
	if m.Sent {
		b.WriteString("sent = true\n")
	}
	fmt.Fprintf(&b, "complete = %v\n", m.Complete)
	if len(m.Asked) > 0 {
		fmt.Fprintf(&b, "asked = [%s]\n", listed(m.Asked))
	}
	writeSlots(&b, m.Slots)
	return sealed(b.String())
}

func writeSlots(b *strings.Builder, all []keptSlot) {
	for _, s := range all {
		fmt.Fprintf(b, "[[slot]]\nslot = %d\nfile = %s\nsha256 = %s\nbytes = %d\n",
			s.Slot, stricttoml.Quote(s.File), stricttoml.Quote(s.SHA256), s.Bytes)
	}
}

// listed is "0, 1, 2".
func listed(numbers []int) string {
	words := make([]string, len(numbers))
	for i, n := range numbers {
		words[i] = fmt.Sprint(n)
	}
	return strings.Join(words, ", ")
}

func (m manifest) mistakes() preset.FieldErrors {
	var f faults
	if err := preset.CheckName(m.Device); err != nil {
		f.add("device", "device", "%v", err)
	}
	f.checkSum("profile_sha256", "profile_sha256", m.ProfileSHA256)
	f.text("port", m.Port, "")
	f.text("note", m.Note, "\n\t")
	f.within("unit", m.Unit, 0, 127)
	if m.Channel != 0 {
		f.within("channel", m.Channel, 1, 16)
	}
	f.year("taken", m.Taken)
	f.slots(m.Slots, snapshotEnding)
	for i := 1; i < len(m.Slots); i++ {
		if m.Slots[i].Slot <= m.Slots[i-1].Slot {
			f.add(fmt.Sprintf("slot.%d.slot", i), fmt.Sprintf("slot %d:", m.Slots[i].Slot), "stands twice or after a higher one: each slot once, in order")
		}
	}
	f.asked(m)
	return f.found
}

// asked holds the slots that were asked for against those that are there: while a
// snapshot is partial, both must be known.
func (f *faults) asked(m manifest) {
	switch {
	case m.Complete && len(m.Asked) > 0:
		f.add("asked", "asked", "stands in a snapshot that is complete: leave it out")
	case !m.Complete && len(m.Asked) == 0:
		f.add("complete", "complete", "is false, and what was asked for is not told: list the slots in asked")
	case len(m.Asked) > mostSlots:
		f.add("asked", "asked", "lists %d slots: %d at most", len(m.Asked), mostSlots)
	}
	for i, n := range m.Asked {
		if n < 0 || n > topSlot {
			f.add("asked", "asked", "slot %d: must lie from 0 to %d", n, topSlot)
		}
		if i > 0 && n <= m.Asked[i-1] {
			f.add("asked", "asked", "slot %d stands twice or after a higher one: each slot once, in order", n)
		}
	}
	for i, s := range m.Slots {
		if _, asked := slices.BinarySearch(m.Asked, s.Slot); !m.Complete && !asked {
			f.add(fmt.Sprintf("slot.%d.slot", i), fmt.Sprintf("slot %d:", s.Slot), "is not among the slots that were asked for")
		}
	}
}
