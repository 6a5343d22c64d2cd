package library

import (
	"fmt"
	"strings"
	"unicode"

	"echowright/preset"
	"echowright/preset/stricttoml"
)

// A Rig is a device on a port.
type Rig struct {
	Name    string `toml:"name" json:"name"`
	Device  string `toml:"device" json:"device"`             // a profile of the library, or one that is shipped
	Port    string `toml:"port" json:"port"`                 // as --port takes it: "raw:/dev/snd/midiC1D0"
	Channel int    `toml:"channel" json:"channel,omitempty"` // 1 to 16; 0 where the device has none, or one that goes with its unit number
	Unit    *int   `toml:"unit" json:"unit,omitempty"`       // number of the device, 0 to 127; nil where it has none
	Notes   string `toml:"notes" json:"notes,omitempty"`
}

var rigKind = stricttoml.Kind{Name: "rig", Version: 1, Limit: 1 << 20}

// ParseRig reads the text of a rig file; errors begin with file.
func ParseRig(file string, text []byte) (Rig, error) {
	var r Rig
	doc, err := rigKind.Decode(file, text, &r)
	if err != nil {
		return Rig{}, err
	}
	if err := doc.Require("name", "device", "port"); err != nil {
		return Rig{}, err
	}
	mistakes := r.mistakes()
	if doc.Has("channel") && r.Channel == 0 {
		mistakes = append(mistakes, &preset.FieldError{Path: "channel", Subject: "channel", Problem: "0: must lie from 1 to 16"})
	}
	if len(mistakes) > 0 {
		return Rig{}, doc.Locate(mistakes)
	}
	return r, nil
}

// FormatRig writes a rig as the text of its file.
func FormatRig(r Rig) ([]byte, error) {
	if mistakes := r.mistakes(); len(mistakes) > 0 {
		return nil, fmt.Errorf("rig %q cannot be written: %w", r.Name, mistakes)
	}
	var b strings.Builder
	for _, line := range []struct{ key, text string }{
		{"format", rigKind.Format()}, {"name", r.Name}, {"device", r.Device}, {"port", r.Port},
	} {
		fmt.Fprintf(&b, "%s = %s\n", line.key, stricttoml.Quote(line.text))
	}
	if r.Channel != 0 {
		fmt.Fprintf(&b, "channel = %d\n", r.Channel)
	}
	if r.Unit != nil {
		fmt.Fprintf(&b, "unit = %d\n", *r.Unit)
	}
	if r.Notes != "" {
		fmt.Fprintf(&b, "notes = %s\n", stricttoml.Quote(r.Notes))
	}
	return []byte(b.String()), nil
}

func (r Rig) mistakes() preset.FieldErrors {
	var f faults
	if err := checkName(r.Name); err != nil {
		f.add("name", "name", "%v", err)
	}
	if err := preset.CheckName(r.Device); err != nil {
		f.add("device", "device", "%v", err)
	}
	if kind, rest, ok := strings.Cut(r.Port, ":"); !ok || kind == "" || rest == "" || !printable(r.Port, "") {
		f.add("port", "port", "%q: write its kind and its place, such as raw:/dev/snd/midiC1D0", r.Port)
	}
	if r.Channel < 0 || r.Channel > 16 {
		f.add("channel", "channel", "%d: must lie from 1 to 16", r.Channel)
	}
	if r.Unit != nil && (*r.Unit < 0 || *r.Unit > 127) {
		f.add("unit", "unit", "%d: must lie from 0 to 127", *r.Unit)
	}
	if !printable(r.Notes, "\n\t") {
		f.add("notes", "notes", "hold a control character: take it out")
	}
	return f.found
}

// printable is whether s holds nothing that could move a terminal's cursor, but
// for what is allowed.
func printable(s, allowed string) bool {
	for _, r := range s {
		if !unicode.IsPrint(r) && !strings.ContainsRune(allowed, r) {
			return false
		}
	}
	return true
}
