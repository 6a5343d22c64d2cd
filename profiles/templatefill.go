package profiles

import (
	"bytes"
	"fmt"

	"echowright/midi"
)

// append fills the places and appends the message.
func (t *template) append(dst []byte, f *fields) ([]byte, error) {
	start, from, to := len(dst), 0, 0
	for i := range t.parts {
		p := &t.parts[i]
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
			dst = p.appendNumber(dst, t.sum.of(dst[from:to])&p.mask())
		case fieldDump:
			if len(f.dump) != p.count {
				return dst[:start], fmt.Errorf("a slot's memory of %d packed bytes: %d wanted", len(f.dump), p.count)
			}
			if i := bytes.IndexFunc(f.dump, func(r rune) bool { return r > midi.MaxValue7 }); i >= 0 {
				return dst[:start], fmt.Errorf("byte %d of the dump is %02X: bytes of 8 bits need a packing in [memory]", i, f.dump[i])
			}
			dst = append(dst, f.dump...)
		default:
			v := *f.number(p.name)
			if err := p.fit(v); err != nil {
				return dst[:start], err
			}
			dst = p.appendNumber(dst, v)
		}
	}
	return dst, nil
}

// mask is the bits that the place has room for: a sum is taken to as many.
func (p *part) mask() int {
	if p.base > 0 {
		_, high := p.limits()
		if p.base == 16 {
			return high
		}
		return 0x7F
	}
	return 1<<(p.bits*p.count) - 1
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
			if p.halved {
				add(0xF0, p.half)
				continue
			}
			add(0, make([]byte, p.count)...)
		default:
			if err := p.fit(*number); err != nil {
				return midi.Match{}, err
			}
			add(0xFF, p.appendNumber(nil, *number)...)
		}
	}
	return m, nil
}

// parse reads the places of a message that fits the template, and checks its
// checksum. Fields that the template does not have are left as they are.
func (t *template) parse(message []byte, f *fields) error {
	var numbers [maxParts]int
	at, from, to := 0, 0, 0
	for i := range t.parts {
		if i == t.from {
			from = at
		}
		if i == t.to {
			to = at
		}
		p := &t.parts[i]
		if len(message)-at < p.count {
			return fmt.Errorf("message of %d bytes ends inside %q", len(message), t.text)
		}
		b := message[at : at+p.count]
		at += p.count
		switch p.name {
		case "":
			if !bytes.Equal(b, p.fixed) {
				return fmt.Errorf("%s where %q has %s", midi.Hex(b), t.text, midi.Hex(p.fixed))
			}
			continue
		case fieldDump:
			f.dump = b
			continue
		}
		n, ok := p.number(b)
		if !ok {
			return fmt.Errorf("%s where %q has %s", midi.Hex(b), t.text, p.name)
		}
		if p.name == fieldSum {
			if want := t.sum.of(message[from:to]) & p.mask(); n != want {
				return fmt.Errorf("checksum %02X, but its bytes give %02X: %w", n, want, ErrDamaged)
			}
		}
		numbers[i] = n
	}
	if at != len(message) {
		return fmt.Errorf("message of %d bytes: %d wanted by %q", len(message), at, t.text)
	}
	return t.solve(&numbers, f)
}

// maxParts bounds a template; what the profile states may have half of them, as
// the statuses that it leaves out are counted too.
const maxParts = 256

// solve finds the fields that make those numbers, and refuses numbers that no
// field would make.
func (t *template) solve(numbers *[maxParts]int, f *fields) error {
	for _, s := range t.sources {
		v := 0
		for _, i := range s.parts {
			v += numbers[i] * t.parts[i].div
		}
		*f.number(s.name) = v - t.parts[s.parts[0]].add
	}
	for i := range t.parts {
		p := &t.parts[i]
		if v := f.number(p.name); v != nil && p.reckon(*v) != numbers[i] {
			return fmt.Errorf("the parts of the %s in %q do not belong together", p.name, t.text)
		}
	}
	return nil
}

// again fills the template and reads the message again: what comes back differs
// where the places do not hold all of a number.
func (t *template) again(f fields) (fields, error) {
	message, err := t.append(nil, &f)
	if err != nil {
		return fields{}, err
	}
	got := f
	for _, s := range t.sources {
		*got.number(s.name) = anyNumber
	}
	if err := t.parse(message, &got); err != nil {
		for _, s := range t.sources {
			*got.number(s.name) = anyNumber
		}
	}
	return got, nil
}
