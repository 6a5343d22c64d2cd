package midi

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// A Match is a pattern for one whole message. Value and Mask have the same
// length; a bit that is set in Mask must be as in Value. A message fits if it is
// as long as Value, or, with Tail, at least as long.
//
// In words it is what manuals print, "F0 7D 05 .. 7F 1. .. F7": two dots for any
// byte, one for any half, "*" at the end for any tail, and 10&70 for a byte of
// which only the bits of the mask 70 count.
type Match struct {
	Value []byte
	Mask  []byte
	Tail  bool
}

// Exactly matches one message and no other.
func Exactly(message []byte) Match {
	return Match{Value: bytes.Clone(message), Mask: bytes.Repeat([]byte{0xFF}, len(message))}
}

// Fits reports whether the message is one of those that the pattern means.
func (m Match) Fits(message []byte) bool {
	n := len(m.Value)
	if len(m.Mask) != n || len(message) < n || len(message) > n && !m.Tail {
		return false
	}
	for i, mask := range m.Mask {
		if (message[i]^m.Value[i])&mask != 0 {
			return false
		}
	}
	return true
}

func (m Match) check() error {
	switch {
	case len(m.Value) != len(m.Mask):
		return fmt.Errorf("a pattern of %d bytes with a mask of %d", len(m.Value), len(m.Mask))
	case len(m.Value) == 0:
		return errors.New("an empty pattern")
	}
	return nil
}

func (m Match) String() string {
	var words []string
	for i, mask := range m.Mask {
		if i < len(m.Value) {
			words = append(words, maskedByte(m.Value[i], mask))
		}
	}
	if m.Tail {
		words = append(words, "*")
	}
	return strings.Join(words, " ")
}

func maskedByte(value, mask byte) string {
	high, low := string(hexDigits[value>>4]), string(hexDigits[value&15])
	switch mask {
	case 0xFF:
		return high + low
	case 0xF0:
		return high + "."
	case 0x0F:
		return "." + low
	case 0:
		return ".."
	}
	return fmt.Sprintf("%02X&%02X", value, mask)
}

// ParseMatch reads what String writes.
func ParseMatch(s string) (Match, error) {
	var m Match
	words := strings.Fields(s)
	for i, word := range words {
		if word == "*" && i == len(words)-1 {
			m.Tail = true
			break
		}
		value, mask, ok := parseMasked(word)
		if !ok {
			return Match{}, fmt.Errorf("pattern %q: word %d, %q: write a byte as two hex digits, a dot for a half that may be anything, "+
				"VALUE&MASK for single bits, * at the very end for any tail", s, i+1, word)
		}
		m.Value, m.Mask = append(m.Value, value), append(m.Mask, mask)
	}
	if err := m.check(); err != nil {
		return Match{}, fmt.Errorf("pattern %q: %w", s, err)
	}
	return m, nil
}

func parseMasked(word string) (value, mask byte, ok bool) {
	if v, m, found := strings.Cut(word, "&"); found {
		value, ok1 := parseByte(v)
		mask, ok2 := parseByte(m)
		return value & mask, mask, ok1 && ok2
	}
	if len(word) != 2 {
		return 0, 0, false
	}
	mask = 0xFF
	if word[0] == '.' {
		mask &^= 0xF0
	}
	if word[1] == '.' {
		mask &^= 0x0F
	}
	value, ok = parseByte(strings.ReplaceAll(word, ".", "0"))
	return value, mask, ok
}

func parseByte(digits string) (byte, bool) {
	v, err := strconv.ParseUint(digits, 16, 8)
	return byte(v), err == nil && len(digits) == 2
}
