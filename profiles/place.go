package profiles

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// A part of a template is one fixed byte (name is "") or a place. The place's
// number is what the field holds after some arithmetic:
//
//	{value}            as it is
//	{slot-1}           with something added or taken off
//	{value/100}        how often 100 goes into it …
//	{value%100}        … and what is left: the two together are the value
//	{(slot-1)/128%128} all of that, in this order
//
// and its form is
//
//	:7x2    two bytes of 7 bits, high bits first (4x2: nibbles)
//	:7x2<   low bits first
//	:7x2s   as two's complement, with < behind it for low bits first
//	:dec3   three decimal digits in ASCII, :hex2 hexadecimal ones
type part struct {
	fixed  []byte
	name   fieldName
	add    int
	div    int // 1: not divided
	mod    int // 0: all of it
	bits   int
	count  int // bytes
	low    bool
	signed bool
	base   int  // 10 or 16: ASCII digits; 0: bits
	half   byte // fixed high half of the byte
	halved bool
}

func hexByte(word string) (byte, bool) {
	v, err := strconv.ParseUint(word, 16, 8)
	return byte(v), err == nil && len(word) == 2
}

// parsePlace reads a place; one hex digit may stand before it.
func parsePlace(word string, rules templateRules) (part, error) {
	p := part{div: 1, bits: 7, count: 1}
	half, inner, _ := strings.Cut(word, "{")
	inner, closed := strings.CutSuffix(inner, "}")
	expression, form, hasForm := strings.Cut(inner, ":")
	if !closed || !p.parseExpression(expression) || !slices.Contains(fieldNames, p.name) {
		return p, fmt.Errorf("%q: the places are %v, such as {slot-1}, {value/100}, {(slot-1)%%100}", word, fieldNames)
	}
	if p.name == fieldDump {
		p.count = rules.dump
	}
	if p.name == fieldSum && rules.sum != nil && rules.sum.bits > 7 {
		p.count = (rules.sum.bits + 6) / 7
	}
	if plain := p.add == 0 && p.div == 1 && p.mod == 0; !plain && (p.name == fieldDump || p.name == fieldSum) {
		return p, fmt.Errorf("%q: nothing can be reckoned with a %s", word, p.name)
	}
	if hasForm && (p.name == fieldDump || !p.parseForm(form)) {
		return p, fmt.Errorf("%q: a form is BITSxCOUNT, such as 7x2 or 4x4, with s behind it for two's complement and < for low bits first; "+
			"or dec3, hex2 for digits in ASCII", word)
	}
	if half != "" {
		return p, p.parseHalf(word, half, hasForm)
	}
	return p, nil
}

func (p *part) parseHalf(word, half string, hasForm bool) error {
	v, err := strconv.ParseUint(half, 16, 4)
	if err != nil || hasForm || p.name == fieldDump || p.name == fieldSum {
		return fmt.Errorf("%q: before a place goes one hex digit, the high half of its byte, such as B{channel}; apart from it, a space", word)
	}
	p.half, p.halved, p.bits = byte(v)<<4, true, 4
	return nil
}

// parseExpression reads name, name+1, name/100%128, (name+1)/100.
func (p *part) parseExpression(s string) bool {
	head, rest := s, ""
	if inner, after, ok := strings.Cut(strings.TrimPrefix(s, "("), ")"); strings.HasPrefix(s, "(") {
		if !ok {
			return false
		}
		head, rest = inner, after
	} else if i := strings.IndexAny(s, "/%"); i >= 0 {
		head, rest = s[:i], s[i:]
		if strings.ContainsAny(head, "+-") {
			return false // what it would mean must not be guessed
		}
	}
	if i := strings.IndexAny(head, "+-"); i >= 0 {
		n, err := strconv.Atoi(head[i:])
		if err != nil || n < -1<<28 || n > 1<<28 {
			return false
		}
		head, p.add = head[:i], n
	}
	p.name = fieldName(head)
	rest, mod, hasMod := strings.Cut(rest, "%")
	if hasMod && !divisor(mod, &p.mod) {
		return false
	}
	if rest == "" {
		return true
	}
	return rest[0] == '/' && divisor(rest[1:], &p.div)
}

func divisor(s string, into *int) bool {
	n, err := strconv.ParseUint(s, 10, 28)
	*into = int(n)
	return err == nil && n >= 2
}

// maxPlaceBits bounds a number on the wire: five 7-bit bytes hold 32 bits.
const maxPlaceBits = 35

func (p *part) parseForm(form string) bool {
	for base, word := range map[int]string{10: "dec", 16: "hex"} {
		if digits, ok := strings.CutPrefix(form, word); ok {
			n, err := strconv.ParseUint(digits, 10, 8)
			p.base, p.count = base, int(n)
			return err == nil && n >= 1 && n <= 8
		}
	}
	form, p.low = strings.CutSuffix(form, "<")
	form, p.signed = strings.CutSuffix(form, "s")
	bits, count, ok := strings.Cut(form, "x")
	b, err := strconv.ParseUint(bits, 10, 8)
	n, err2 := strconv.ParseUint(count, 10, 8)
	p.bits, p.count = int(b), int(n)
	return ok && err == nil && err2 == nil && b >= 1 && b <= 7 && n >= 1 && p.bits*p.count <= maxPlaceBits && (p.name != fieldSum || !p.signed)
}

// reckon is the number that goes into the place.
func (p part) reckon(v int) int {
	v += p.add
	if p.div > 1 {
		v /= p.div
	}
	if p.mod > 0 {
		v %= p.mod
	}
	return v
}

// holds reports whether a field's number fits into the place.
func (p part) holds(v int) bool {
	low, high := p.limits()
	if (p.div > 1 || p.mod > 0) && v+p.add < 0 {
		return false // the rest of a negative number is anybody's guess
	}
	n := p.reckon(v)
	return n >= low && n <= high
}

func (p part) limits() (low, high int) {
	switch {
	case p.base > 0:
		high = 1
		for range p.count {
			high *= p.base
		}
		return 0, high - 1
	case p.signed:
		half := 1 << (p.bits*p.count - 1)
		return -half, half - 1
	}
	return 0, 1<<(p.bits*p.count) - 1
}

func (p part) fit(v int) error {
	if p.holds(v) {
		return nil
	}
	low, high := p.limits()
	return fmt.Errorf("%s %d: its place in the message holds %d to %d", p.name, v, low, high)
}

// appendNumber appends the bytes of a number that the place holds.
func (p part) appendNumber(dst []byte, v int) []byte {
	n := p.reckon(v)
	if p.base > 0 {
		return appendDigits(dst, n, p.base, p.count)
	}
	for i := range p.count {
		shift := p.bits * i
		if !p.low {
			shift = p.bits * (p.count - 1 - i)
		}
		dst = append(dst, p.half|byte(n>>shift&(1<<p.bits-1)))
	}
	return dst
}

func appendDigits(dst []byte, n, base, count int) []byte {
	start := len(dst)
	for range count {
		dst = append(dst, 0)
	}
	for i := len(dst) - 1; i >= start; i-- {
		dst[i] = "0123456789ABCDEF"[n%base]
		n /= base
	}
	return dst
}

// number reads what appendNumber wrote, before it is undone what reckon did;
// false if the bytes cannot be such a number.
func (p part) number(b []byte) (int, bool) {
	if p.base > 0 {
		return digits(b, p.base)
	}
	v := 0
	for i := range b {
		k := i
		if p.low {
			k = len(b) - 1 - i
		}
		if b[k]&^(1<<p.bits-1) != p.half {
			return 0, false
		}
		v = v<<p.bits | int(b[k])&(1<<p.bits-1)
	}
	if p.signed && v >= 1<<(p.bits*p.count-1) {
		v -= 1 << (p.bits * p.count)
	}
	return v, true
}

func digits(b []byte, base int) (int, bool) {
	v := 0
	for _, c := range b {
		d := strings.IndexByte("0123456789ABCDEF", c)
		if d < 0 || d >= base {
			return 0, false
		}
		v = v*base + d
	}
	return v, true
}
