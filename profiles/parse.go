package profiles

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"echowright/midi"
	"echowright/preset"
	"echowright/preset/nearest"
)

// Parse reads a device profile. File is the name that errors begin with; every
// mistake that was found is told with its line.
func Parse(file string, text []byte) (*Device, error) {
	var f deviceFile
	doc, err := kind.Decode(file, text, &f)
	if err != nil {
		return nil, err
	}
	if err := doc.Require(required...); err != nil {
		return nil, err
	}
	b := builder{file: f, device: &Device{Name: f.Name, Title: f.Title, Notes: f.Notes, source: slices.Clone(text), Dry: None, shared: map[Role]int{}}}
	b.build()
	if len(b.found) > 0 {
		return nil, doc.Locate(b.found)
	}
	return b.device, nil
}

// A builder makes a device of a file and collects what is wrong with it.
type builder struct {
	file   deviceFile
	device *Device
	scales map[string]*Scale
	rules  templateRules
	paths  []string // where each parameter of the device is described
	found  preset.FieldErrors

	related []relation
	told    map[string]bool // lines are alike: what is wrong with one is told once
}

func (b *builder) build() {
	b.head()
	b.manners()
	b.scale()
	b.memory()
	b.lines()
	b.parameters()
	b.relations()
	b.structure()
	b.messages()
	if len(b.found) == 0 {
		b.overlaps()
		b.rests()
	}
}

// add notes a mistake at a path; the subject a person reads is the path itself.
func (b *builder) add(path, format string, args ...any) {
	problem := fmt.Sprintf(format, args...)
	subject := told(path)
	if b.told == nil {
		b.told = map[string]bool{}
	}
	if once := path + " " + problem; !b.told[once] {
		b.told[once] = true
		b.found = append(b.found, &preset.FieldError{Path: path, Subject: subject, Problem: problem})
	}
}

// told is a path for a reader who counts from 1: "scale.time.codes:", but
// "[[line.parameter]] 2: role:".
func told(path string) string {
	keys := strings.Split(path, ".")
	for i, key := range keys {
		if n, err := strconv.Atoi(key); err == nil {
			list := "[[" + strings.Join(keys[:i], ".") + "]] " + strconv.Itoa(n+1) + ":"
			if rest := keys[i+1:]; len(rest) > 0 {
				list += " " + strings.Join(rest, ".") + ":"
			}
			return list
		}
	}
	return path + ":"
}

func (b *builder) addMistake(path string, m *mistake) {
	if m == nil {
		return
	}
	if m.key != "" {
		path += "." + m.key
	}
	b.add(path, "%s", m.problem)
}

func (b *builder) head() {
	if err := preset.CheckName(b.file.Name); err != nil {
		b.add("name", "%v", err)
	}
	id := b.file.Identity
	if id == nil {
		return
	}
	manufacturer, err := midi.ParseHex(id.Manufacturer)
	switch {
	case err != nil:
		b.add("identity.manufacturer", "%v", err)
	case len(manufacturer) != 1 && (len(manufacturer) != 3 || manufacturer[0] != 0):
		b.add("identity.manufacturer", "%q: one byte, or three of which the first is 00", id.Manufacturer)
	}
	b.inRange("identity.family", id.Family, 0, 1<<14-1)
	b.inRange("identity.member", id.Member, 0, 1<<14-1)
	b.device.Identity = &Identity{Family: id.Family, Member: id.Member}
	copy(b.device.Identity.Manufacturer[:], manufacturer)
}

func (b *builder) inRange(path string, v, low, high int) {
	if v < low || v > high {
		b.add(path, "%d: from %d to %d", v, low, high)
	}
}

// defaultAnswer is how long an answer is waited for where the profile says
// nothing: what the File Dump of MIDI 1.0 allows for one (200 ms), doubled.
const defaultAnswer = 400 * time.Millisecond

func (b *builder) manners() {
	m := b.file.Manners
	for _, f := range []struct {
		key string
		v   float64
	}{{"gap_ms", m.GapMs}, {"answer_ms", m.AnswerMs}, {"flash_ms", m.FlashMs}} {
		if f.v < 0 || f.v > 60_000 {
			b.add("manners."+f.key, "%v: from 0 to 60000", f.v)
		}
	}
	b.inRange("manners.buffer_bytes", m.Buffer, 0, 1<<24)
	b.inRange("manners.retries", m.Retries, 0, 20)
	d := &b.device.Manners
	*d = Manners{Gap: milliseconds(m.GapMs), Buffer: m.Buffer, Answer: milliseconds(m.AnswerMs), Flash: milliseconds(m.FlashMs), Retries: m.Retries}
	if d.Answer == 0 {
		d.Answer = defaultAnswer
	}
	if m.Units != nil {
		d.FirstUnit, d.LastUnit = b.pair("manners.units", m.Units, 127)
	}
	b.channels(m)
}

func milliseconds(v float64) time.Duration { return time.Duration(v * float64(time.Millisecond)) }

// pair reads [first, last].
func (b *builder) pair(path string, v []int, greatest int) (first, last int) {
	if len(v) != 2 || v[0] < 0 || v[1] < v[0] || v[1] > greatest {
		b.add(path, "%v: give the first and the last, such as [0, %d]", v, greatest)
		return 0, 0
	}
	return v[0], v[1]
}

// allCodes bounds what the scales of one device take in memory.
const allCodes = 2 * maxCodes

func (b *builder) scale() {
	b.scales = map[string]*Scale{}
	codes := 0
	for _, name := range slices.Sorted(maps.Keys(b.file.Scales)) {
		f := b.file.Scales[name]
		if len(f.Codes) == 2 && f.Codes[1] > f.Codes[0] {
			codes += min(f.Codes[1]-f.Codes[0], maxCodes)
		}
		if codes > allCodes {
			b.add("scale."+name, "with the scales before it there are more than %d codes: is this one device?", allCodes)
			return
		}
		s, m := f.compile(name)
		if m != nil {
			b.addMistake("scale."+name, m)
			continue
		}
		b.scales[name] = s
	}
}

// known gives the entry of that name, or a mistake that offers the nearest.
func known[T any](b *builder, path, name string, all map[string]T) (T, bool) {
	v, ok := all[name]
	if !ok {
		names := slices.Sorted(maps.Keys(all))
		hint := "one of " + strings.Join(names, ", ")
		if near := nearest.Name(name, names); near != "" {
			hint = fmt.Sprintf("did you mean %q?", near)
		}
		b.add(path, "%q is not known: %s", name, hint)
	}
	return v, ok
}
