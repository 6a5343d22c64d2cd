package profiles

import (
	"fmt"
	"strings"
)

// A template is a message, or several, as a manual prints them, with places for
// what changes:
//
//	F0 7D 05 {unit} ({command} {address:7x2} {value:7x2}) {sum} F7
//	B{channel} 0C {value/128} B{channel} 2C {value%128}
//
// A place is {field} for one 7-bit byte, or has a form behind a colon: see
// [place.go]. What stands in parentheses goes into the checksum {sum}, what
// stands in brackets is counted by {count}. {dump} is a slot's packed memory. A
// digit before a place, B{channel}, is the high half of a byte whose low half
// is the field. Text stands in single quotes: 'BIN '.
type template struct {
	text     string
	parts    []part
	sum      *checksum
	from, to int // the parts that go into the checksum: from ≤ i < to
	counted  [2]int
	messages int       // how many it makes
	sources  []source  // which parts a message is read from
	expanded *template // with every status written out; itself if none is left out
}

// A fieldName names what a place holds.
type fieldName string

const (
	fieldUnit    fieldName = "unit"
	fieldChannel fieldName = "channel"
	fieldCommand fieldName = "command"
	fieldAddress fieldName = "address"
	fieldValue   fieldName = "value"
	fieldSlot    fieldName = "slot"
	fieldDump    fieldName = "dump"
	fieldCount   fieldName = "count"
	fieldSum     fieldName = "sum"
)

var fieldNames = []fieldName{fieldUnit, fieldChannel, fieldCommand, fieldAddress, fieldValue, fieldSlot, fieldDump, fieldCount, fieldSum}

// fields are the numbers that fill a template; anyNumber leaves a place open
// where a template is used as a pattern.
type fields struct {
	unit, channel, command, address, value, slot int
	dump                                         []byte // packed; nil leaves it open
}

// anyNumber is no number that could stand in a message.
const anyNumber = -1 << 40

func (f *fields) number(name fieldName) *int {
	switch name {
	case fieldUnit:
		return &f.unit
	case fieldChannel:
		return &f.channel
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

// templateRules are what a profile says of all its templates.
type templateRules struct {
	sum     *checksum // nil: none
	dump    int       // packed bytes that {dump} stands for
	running bool      // a message may leave out the status of the one before
}

// parseTemplate reads the text of a message.
func parseTemplate(text string, rules templateRules) (*template, error) {
	t := &template{text: text, sum: rules.sum, from: -1, to: -1, counted: [2]int{-1, -1}}
	words, err := templateWords(text)
	if err != nil {
		return nil, err
	}
	for _, word := range words {
		if err := t.addWord(word, rules); err != nil {
			return nil, err
		}
	}
	if len(t.parts) > maxParts/2 {
		return nil, fmt.Errorf("%d bytes and places: a template has %d at most", len(t.parts), maxParts/2)
	}
	if err := t.count(); err != nil {
		return nil, err
	}
	if err := t.check(); err != nil {
		return nil, err
	}
	if err := t.frame(rules.running); err != nil {
		return nil, err
	}
	t.findSources()
	return t, nil
}

// templateWords cuts the text into bytes, places, marks and quoted texts.
func templateWords(text string) ([]string, error) {
	var words []string
	for rest := strings.TrimSpace(text); rest != ""; rest = strings.TrimSpace(rest) {
		n, end := 1, -1
		switch rest[0] {
		case '(', ')', '[', ']':
			words, rest = append(words, rest[:1]), rest[1:]
			continue
		case '\'':
			end = strings.IndexByte(rest[1:], '\'') + 1
			if end == 0 {
				return nil, fmt.Errorf("%q: a text in quotes has no end", rest)
			}
			n = end + 1
		default:
			depth := 0
			for n = 0; n < len(rest); n++ {
				c := rest[n]
				if c == '{' {
					depth++
				} else if c == '}' {
					depth--
				} else if depth == 0 && strings.IndexByte(" \t\r\n()[]'", c) >= 0 {
					break
				}
			}
		}
		words, rest = append(words, rest[:n]), rest[n:]
	}
	return words, nil
}

func (t *template) addWord(word string, rules templateRules) error {
	switch word[0] {
	case '(':
		return t.mark(&t.from, word, "goes into the checksum")
	case ')':
		return t.mark(&t.to, word, "goes into the checksum")
	case '[':
		return t.mark(&t.counted[0], word, "is counted")
	case ']':
		return t.mark(&t.counted[1], word, "is counted")
	case '\'':
		return t.addText(word[1 : len(word)-1])
	}
	if strings.Contains(word, "{") {
		p, err := parsePlace(word, rules)
		t.parts = append(t.parts, p)
		return err
	}
	return t.addByte(word)
}

func (t *template) mark(at *int, sign, what string) error {
	if *at >= 0 {
		return fmt.Errorf("%q stands twice: one range %s", sign, what)
	}
	*at = len(t.parts)
	return nil
}

func (t *template) addText(text string) error {
	for i := range len(text) {
		if text[i] < 0x20 || text[i] > 0x7E {
			return fmt.Errorf("text %q: only printable ASCII characters go into a message", text)
		}
		t.parts = append(t.parts, part{fixed: []byte{text[i]}, count: 1})
	}
	return nil
}

func (t *template) addByte(word string) error {
	b, ok := hexByte(word)
	if !ok {
		return fmt.Errorf("%q: write a byte as two hex digits or a place as {unit}, {value:7x2}", word)
	}
	t.parts = append(t.parts, part{fixed: []byte{b}, count: 1})
	return nil
}
