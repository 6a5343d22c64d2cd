package library

import (
	"fmt"
	"strings"
	"time"

	"echowright/preset"
	"echowright/preset/stricttoml"
)

// An intentFile is the manifest of an intent: intent.toml.
type intentFile struct {
	OwnSHA256     string     `toml:"own_sha256"`
	Doing         string     `toml:"doing"`
	Note          string     `toml:"note"`
	Device        string     `toml:"device"`
	ProfileSHA256 string     `toml:"profile_sha256"`
	Port          string     `toml:"port"`
	Rig           string     `toml:"rig"`
	Unit          int        `toml:"unit"`
	Channel       int        `toml:"channel"`
	Began         time.Time  `toml:"began"`
	Snapshot      string     `toml:"snapshot"`
	ReadBack      bool       `toml:"read_back"`
	Slots         []keptSlot `toml:"slot"`
}

var intentKind = stricttoml.Kind{Name: "intent", Version: 1, Limit: 1 << 20}

var intentRequired = []string{
	"own_sha256", "doing", "device", "profile_sha256", "port", "unit", "began", "read_back",
	"slot.*.slot", "slot.*.file", "slot.*.sha256", "slot.*.bytes",
}

const (
	intentName   = "intent.toml"
	intentEnding = ".bin" // of the files of its slots
)

func parseIntent(file string, text []byte) (intentFile, error) {
	var m intentFile
	doc, err := intentKind.Decode(file, text, &m)
	if err != nil {
		return intentFile{}, err
	}
	if err := doc.Require(intentRequired...); err != nil {
		return intentFile{}, err
	}
	mistakes := append(m.mistakes(), channelWritten(doc, m.Channel)...)
	mistakes = append(mistakes, withoutZone("began", m.Began)...)
	if len(mistakes) > 0 {
		return intentFile{}, doc.Locate(mistakes)
	}
	return m, nil
}

func intentFileOf(i Intent) intentFile {
	m := intentFile{
		Doing: i.Doing, Note: i.Note, Device: i.Device, ProfileSHA256: i.ProfileSHA256, Port: i.Port, Rig: i.Rig,
		Unit: i.UnitNumber, Channel: i.Channel, Began: i.Began, Snapshot: i.Snapshot, ReadBack: i.ReadBack,
	}
	for _, s := range i.Slots {
		m.Slots = append(m.Slots, lineFor(s.Slot, intentEnding, s.Content))
	}
	return m
}

// intent is what intent.toml tells, without the bytes that are kept beside it.
func (m intentFile) intent(name string) Intent {
	i := Intent{
		Name: name, Doing: m.Doing, Note: m.Note, Device: m.Device, ProfileSHA256: m.ProfileSHA256, Port: m.Port, Rig: m.Rig,
		UnitNumber: m.Unit, Channel: m.Channel, Began: m.Began, Snapshot: m.Snapshot, ReadBack: m.ReadBack,
	}
	for _, s := range m.Slots {
		i.Slots = append(i.Slots, IntentSlot{Slot: s.Slot})
	}
	return i
}

func (m intentFile) format() []byte {
	var b strings.Builder
	text := func(key, value string) {
		if value != "" {
			fmt.Fprintf(&b, "%s = %s\n", key, stricttoml.Quote(value))
		}
	}
	text("format", intentKind.Format())
	text("doing", m.Doing)
	text("note", m.Note)
	text("device", m.Device)
	text("profile_sha256", m.ProfileSHA256)
	text("port", m.Port)
	text("rig", m.Rig)
	fmt.Fprintf(&b, "unit = %d\n", m.Unit)
	if m.Channel != 0 {
		fmt.Fprintf(&b, "channel = %d\n", m.Channel)
	}
	fmt.Fprintf(&b, "began = %s\n", m.Began.Format(time.RFC3339Nano))
	text("snapshot", m.Snapshot)
	fmt.Fprintf(&b, "read_back = %v\n", m.ReadBack)
	writeSlots(&b, m.Slots)
	return sealed(b.String())
}

func (m intentFile) mistakes() preset.FieldErrors {
	var f faults
	for _, named := range []struct {
		key, name string
		may       bool // be empty
	}{{"device", m.Device, false}, {"rig", m.Rig, true}, {"snapshot", m.Snapshot, true}} {
		if err := preset.CheckName(named.name); err != nil && !(named.may && named.name == "") {
			f.add(named.key, named.key, "%v", err)
		}
	}
	for _, needed := range []struct{ key, text string }{{"doing", m.Doing}, {"port", m.Port}} {
		f.text(needed.key, needed.text, "")
		if needed.text == "" {
			f.add(needed.key, needed.key, "is empty: say it")
		}
	}
	f.text("note", m.Note, "\n\t")
	f.checkSum("profile_sha256", "profile_sha256", m.ProfileSHA256)
	f.within("unit", m.Unit, 0, 127)
	if m.Channel != 0 {
		f.within("channel", m.Channel, 1, 16)
	}
	f.year("began", m.Began)
	if len(m.Slots) == 0 {
		f.add("slot", "slot", "is missing: an intent is about one slot at least")
	}
	f.slots(m.Slots, intentEnding)
	f.once(m.Slots)
	return f.found
}

// once refuses a slot that is to be written twice: which of the two it was to
// hold in the end would depend on where the work was cut short.
func (f *faults) once(slots []keptSlot) {
	seen := map[int]bool{}
	for i, s := range slots {
		if seen[s.Slot] {
			f.add(fmt.Sprintf("slot.%d.slot", i), fmt.Sprintf("slot %d:", s.Slot), "stands twice: each slot once")
		}
		seen[s.Slot] = true
	}
}
