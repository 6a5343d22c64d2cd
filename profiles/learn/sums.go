package learn

import (
	"encoding/binary"
	"fmt"

	"echowright/midi"
)

// A Sum is a checksum that was recognised: every message holds at At what the
// rule Kind makes of its bytes From … To (both included).
type Sum struct {
	Kind     string // as a profile names it
	From, To int
	At       int
	// Since is where the range may begin as well: the bytes from Since to From were
	// 00 in all that was heard and add nothing. It is From where there is no doubt.
	Since int
}

func (s Sum) String() string {
	text := fmt.Sprintf("byte %d is the checksum %q of bytes %d to %d", s.At, s.Kind, s.From, s.To)
	if s.Since < s.From {
		text += fmt.Sprintf(" (or from byte %d: what is 00 does not tell)", s.Since)
	}
	return text
}

// A rule7 is a checksum of one 7-bit byte.
type rule7 struct {
	name string
	of   func([]byte) byte
}

var rules7 = []rule7{
	{"twos-complement", midi.TwosComplement},
	{"xor", func(b []byte) byte { return midi.XOR(b) & 0x7F }},
	{"sum", midi.PlainSum},
	{"ones-complement", midi.OnesComplement},
}

// sumOf recognises a checksum in the last byte before F7 that holds for all
// messages, which have one length. A byte that never changes proves nothing.
func sumOf(messages [][]byte) (Sum, bool) {
	at := len(messages[0]) - 2
	if at < 2 || !moves(messages, at) {
		return Sum{}, false
	}
	for _, rule := range rules7 {
		var starts []int
		for from := 1; from < at; from++ {
			if holds(messages, func(m []byte) bool { return rule.of(m[from:at]) == m[at] }) {
				starts = append(starts, from)
			}
		}
		if len(starts) > 0 {
			return Sum{Kind: rule.name, From: begin(messages, starts), Since: starts[0], To: at - 1, At: at}, true
		}
	}
	return Sum{}, false
}

// begin chooses among places that give the same sums: behind zeros at the very
// front, such as a unit number of 00, but not behind bytes that come to be set.
func begin(messages [][]byte, starts []int) int {
	from := starts[0]
	for _, next := range starts[1:] {
		if next != from+1 || moves(messages, from) {
			break
		}
		from = next
	}
	return from
}

func holds(messages [][]byte, ok func([]byte) bool) bool {
	for _, m := range messages {
		if !ok(m) {
			return false
		}
	}
	return true
}

// moves reports whether the byte at i differs between messages.
func moves(messages [][]byte, i int) bool {
	return !holds(messages, func(m []byte) bool { return m[i] == messages[0][i] })
}

// A rule8 is a check of one or two bytes of 8 bits inside a memory.
type rule8 struct {
	name  string
	bytes int
	of    func([]byte) uint16
}

// rules8 are the checks that memories are known to carry: CRCs of 16 bits by the
// names and parameters of the common catalogues (see midi's tests for their check
// values), sums and exclusive or.
func rules8() []rule8 {
	crc := func(name string, c midi.CRC16) rule8 { return rule8{"crc-16 " + name, 2, c.Sum} }
	return []rule8{
		crc("polynomial 1021, start FFFF", midi.CRC16{Poly: 0x1021, Init: 0xFFFF}),
		crc("polynomial 1021, start 0000", midi.CRC16{Poly: 0x1021}),
		crc("polynomial 1021, start FFFF, final XOR FFFF", midi.CRC16{Poly: 0x1021, Init: 0xFFFF, XorOut: 0xFFFF}),
		crc("polynomial 1021, start 0000, reflected", midi.CRC16{Poly: 0x1021, ReflectIn: true, ReflectOut: true}),
		crc("polynomial 1021, start FFFF, reflected, final XOR FFFF",
			midi.CRC16{Poly: 0x1021, Init: 0xFFFF, ReflectIn: true, ReflectOut: true, XorOut: 0xFFFF}),
		crc("polynomial 8005, start 0000, reflected", midi.CRC16{Poly: 0x8005, ReflectIn: true, ReflectOut: true}),
		crc("polynomial 8005, start FFFF, reflected", midi.CRC16{Poly: 0x8005, Init: 0xFFFF, ReflectIn: true, ReflectOut: true}),
		crc("polynomial 8005, start 0000", midi.CRC16{Poly: 0x8005}),
		{"sum", 1, func(b []byte) uint16 { return uint16(sum8(b)) }},
		{"twos-complement", 1, func(b []byte) uint16 { return uint16(-sum8(b)) }},
		{"ones-complement", 1, func(b []byte) uint16 { return uint16(^sum8(b)) }},
		{"xor", 1, func(b []byte) uint16 { return uint16(midi.XOR(b)) }},
	}
}

func sum8(b []byte) (s byte) {
	for _, v := range b {
		s += v
	}
	return s
}

// checkOf recognises a check at the end of memories that all hold one: of the
// bytes before it, from the first or one of the next few.
func checkOf(memories [][]byte) (kind string, at, from int, ok bool) {
	n := len(memories[0])
	for _, rule := range rules8() {
		at := n - rule.bytes
		if at < 2 || rule.bytes == 1 && !moves(memories, at) {
			continue
		}
		for from := range min(8, at) {
			for _, order := range []struct {
				words string
				get   func([]byte) uint16
			}{{"high byte first", binary.BigEndian.Uint16}, {"low byte first", binary.LittleEndian.Uint16}} {
				fits := func(m []byte) bool {
					if rule.bytes == 1 {
						return byte(rule.of(m[from:at])) == m[at]
					}
					return rule.of(m[from:at]) == order.get(m[at:])
				}
				if holds(memories, fits) {
					kind := rule.name
					if rule.bytes == 2 {
						kind += ", " + order.words
					}
					return kind, at, from, true
				}
			}
		}
	}
	return "", 0, 0, false
}
