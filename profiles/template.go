package profiles

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"

	"echowright/midi"
)

// A template is a message as a manual prints it, with places for what changes:
//
//	F0 7D 05 {unit} ({command} {address:7x2} {value:7x2}) {sum} F7
//
// A place is {field} for one 7-bit byte or {field:BxN} for a number in N bytes
// of B bits each, high bits first, {field:BxN<} low bits first. What stands in
// parentheses goes into the checksum {sum}. {dump} is a slot's packed memory.
type template struct {
	text     string
	parts    []part
	sum      checksum
	from, to int // the parts that go into the checksum: from ≤ i < to
}

// A part is fixed bytes (name is "") or one place.
type part struct {
	fixed []byte
	name  fieldName
	bits  int
	count int
	low   bool // low bits first
}

type fieldName string

const (
	fieldUnit    fieldName = "unit"
	fieldCommand fieldName = "command"
	fieldAddress fieldName = "address"
	fieldValue   fieldName = "value"
	fieldSlot    fieldName = "slot"
	fieldDump    fieldName = "dump"
	fieldSum     fieldName = "sum"
)

var fieldNames = []fieldName{fieldUnit, fieldCommand, fieldAddress, fieldValue, fieldSlot, fieldDump, fieldSum}

// fields are the numbers that fill a template; anyNumber leaves a place open
// where a template is used as a pattern.
type fields struct {
	unit, command, address, value, slot int
	dump                                []byte // packed; nil leaves it open
}

const anyNumber = -1

func (f *fields) number(name fieldName) *int {
	switch name {
	case fieldUnit:
		return &f.unit
	case fieldCommand:
		return &f.command
	case fieldAddress:
		return &f.address
	case fieldValue:
		return &f.value
	case fieldSlot:
		return &f.slot
	}
	return nil
}

// parseTemplate reads the text of a message; dumpLength is the number of packed
// bytes that {dump} stands for.
func parseTemplate(text string, sum checksum, dumpLength int) (*template, error) {
	t := &template{text: text, sum: sum, from: -1, to: -1}
	spaced := strings.NewReplacer("(", " ( ", ")", " ) ").Replace(text)
	for _, word := range strings.Fields(spaced) {
		var err error
		switch {
		case word == "(":
			err = t.mark(&t.from, "(")
		case word == ")":
			err = t.mark(&t.to, ")")
		case strings.HasPrefix(word, "{"):
			err = t.addPlace(word, dumpLength)
		default:
			err = t.addByte(word)
		}
		if err != nil {
			return nil, err
		}
	}
	return t, t.check()
}

func (t *template) mark(at *int, sign string) error {
	if *at >= 0 {
		return fmt.Errorf("%q stands twice: one range goes into the checksum", sign)
	}
	*at = len(t.parts)
	return nil
}

func (t *template) addByte(word string) error {
	v, err := strconv.ParseUint(word, 16, 8)
	if err != nil || len(word) != 2 {
		return fmt.Errorf("%q: write a byte as two hex digits or a place as {unit}, {value:7x2}", word)
	}
	t.parts = append(t.parts, part{fixed: []byte{byte(v)}, count: 1})
	return nil
}

func (t *template) addPlace(word string, dumpLength int) error {
	inner, closed := strings.CutSuffix(strings.TrimPrefix(word, "{"), "}")
	name, form, hasForm := strings.Cut(inner, ":")
	p := part{name: fieldName(name), bits: 7, count: 1}
	if p.name == fieldDump {
		p.count = dumpLength
	}
	known := false
	for _, n := range fieldNames {
		known = known || n == p.name
	}
	if !closed || !known {
		return fmt.Errorf("%q: the places are %v", word, fieldNames)
	}
	if hasForm {
		form, p.low = strings.CutSuffix(form, "<")
		if _, err := fmt.Sscanf(form, "%dx%d", &p.bits, &p.count); err != nil || form != fmt.Sprintf("%dx%d", p.bits, p.count) ||
			p.bits < 1 || p.bits > 7 || p.count < 1 || p.bits*p.count > 28 {
			return fmt.Errorf("%q: a form is BITSxCOUNT, such as 7x2 or 4x4, with < behind it for low bits first", word)
		}
	}
	t.parts = append(t.parts, p)
	return nil
}

// check refuses what could not be sent: SysEx without its ends, bytes over 7
// bits inside, a checksum without a range or inside its own range.
func (t *template) check() error {
	n := len(t.parts)
	if n < 2 || !bytes.Equal(t.parts[0].fixed, []byte{0xF0}) || !bytes.Equal(t.parts[n-1].fixed, []byte{0xF7}) {
		return fmt.Errorf("%q: a System Exclusive message begins with F0 and ends with F7", t.text)
	}
	sumAt := -1
	for i, p := range t.parts[1 : n-1] {
		if len(p.fixed) > 0 && p.fixed[0] > 0x7F {
			return fmt.Errorf("%q: %02X has more than 7 bits", t.text, p.fixed[0])
		}
		if p.name == fieldSum {
			sumAt = i + 1
		}
	}
	switch {
	case (t.from < 0) != (t.to < 0) || t.from > t.to:
		return fmt.Errorf("%q: ( and ) go together", t.text)
	case (sumAt < 0) != (t.from < 0):
		return fmt.Errorf("%q: {sum} and the range in ( ) go together", t.text)
	case sumAt >= 0 && sumAt < t.to:
		return fmt.Errorf("%q: {sum} must come after its range", t.text)
	case sumAt >= 0 && t.sum == nil:
		return fmt.Errorf("%q has a {sum}, but the profile no checksum", t.text)
	}
	return nil
}

// append fills the places and appends the message.
func (t *template) append(dst []byte, f *fields) ([]byte, error) {
	start, from, to := len(dst), 0, 0
	for i, p := range t.parts {
		if i == t.from {
			from = len(dst)
		}
		if i == t.to {
			to = len(dst)
		}
		switch p.name {
		case "":
			dst = append(dst, p.fixed...)
		case fieldSum:
			dst = append(dst, t.sum(dst[from:to]))
		case fieldDump:
			if len(f.dump) != p.count {
				return dst[:start], fmt.Errorf("a slot's memory of %d packed bytes: %d wanted", len(f.dump), p.count)
			}
			dst = append(dst, f.dump...)
		default:
			v := *f.number(p.name)
			if v < 0 || v >= 1<<(p.bits*p.count) {
				return dst[:start], fmt.Errorf("%s %d does not fit into %d×%d bits", p.name, v, p.count, p.bits)
			}
			dst = p.appendNumber(dst, v)
		}
	}
	return dst, nil
}

func (p part) appendNumber(dst []byte, v int) []byte {
	for i := range p.count {
		shift := p.bits * i
		if !p.low {
			shift = p.bits * (p.count - 1 - i)
		}
		dst = append(dst, byte(v>>shift&(1<<p.bits-1)))
	}
	return dst
}

// match is the template as a pattern for an answer: what f leaves open, and the
// checksum, may be anything.
func (t *template) match(f *fields) (midi.Match, error) {
	var m midi.Match
	add := func(mask byte, b ...byte) {
		m.Value = append(m.Value, b...)
		m.Mask = append(m.Mask, bytes.Repeat([]byte{mask}, len(b))...)
	}
	for _, p := range t.parts {
		switch number := f.number(p.name); {
		case p.name == "":
			add(0xFF, p.fixed...)
		case number == nil || *number == anyNumber:
			add(0, make([]byte, p.count)...)
		case *number < 0 || *number >= 1<<(p.bits*p.count):
			return midi.Match{}, fmt.Errorf("%s %d does not fit into %d×%d bits", p.name, *number, p.count, p.bits)
		default:
			add(0xFF, p.appendNumber(nil, *number)...)
		}
	}
	return m, nil
}

// parse reads the places of a message that fits the template, and checks its
// checksum. Fields that the template does not have are left as they are.
func (t *template) parse(message []byte, f *fields) error {
	at, from, to := 0, 0, 0
	for i, p := range t.parts {
		if i == t.from {
			from = at
		}
		if i == t.to {
			to = at
		}
		n := p.count
		if len(message)-at < n {
			return fmt.Errorf("message of %d bytes ends inside %q", len(message), t.text)
		}
		b := message[at : at+n]
		at += n
		if p.name == fieldSum {
			if want := t.sum(message[from:to]); b[0] != want {
				return fmt.Errorf("checksum %02X, but its bytes give %02X: %w", b[0], want, ErrDamaged)
			}
			continue
		}
		if err := t.parsePart(p, b, f); err != nil {
			return err
		}
	}
	if at != len(message) {
		return fmt.Errorf("message of %d bytes: %d wanted by %q", len(message), at, t.text)
	}
	return nil
}

func (t *template) parsePart(p part, b []byte, f *fields) error {
	switch p.name {
	case "":
		if !bytes.Equal(b, p.fixed) {
			return fmt.Errorf("byte %02X where %q has %02X", b[0], t.text, p.fixed[0])
		}
	case fieldDump:
		f.dump = b
	default:
		*f.number(p.name) = p.number(b)
	}
	return nil
}

func (p part) number(b []byte) int {
	v := 0
	for i := range b {
		k := i
		if p.low {
			k = len(b) - 1 - i
		}
		v = v<<p.bits | int(b[k])&(1<<p.bits-1)
	}
	return v
}
