package learn

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"echowright/midi"
)

// A Layout is one way to read the memory out of a dump, and what differs between
// the two dumps when they are read that way.
type Layout struct {
	Packing string // "none", "file-dump", "mirrored", "nibbles", "nibbles low first": as a profile names it
	From    int    // the first byte of the message that belongs to the memory
	Bytes   int    // how many bytes the memory has
	Changed []Bits
	Check   string // the check at its end, "" if none was recognised
	CheckAt int
	Covers  int // the first byte that the check covers
}

// Bits are the bits of one byte of a memory that differ.
type Bits struct {
	At      int
	Was, Is byte
	Mask    byte // the bits that differ
	InCheck bool // the byte is part of the check
}

// A Comparison is what differs between two dumps.
type Comparison struct {
	Changed []Bits   // bytes of the message
	Sum     *Sum     // the message's own checksum, nil where none was recognised
	Layouts []Layout // how the memory may lie in it, the likeliest first
}

// Dumps compares two dumps of one memory, whole System Exclusive messages of the
// same length, between which one parameter was changed. The error says why they
// cannot be compared.
func Dumps(was, is []byte) (Comparison, error) {
	for _, m := range [][]byte{was, is} {
		if len(m) < 6 || m[0] != midi.StartOfSysEx || m[len(m)-1] != midi.EndOfSysEx {
			return Comparison{}, errors.New("a dump is a whole System Exclusive message, F0 … F7")
		}
	}
	if len(was) != len(is) {
		return Comparison{}, fmt.Errorf("the dumps have %d and %d bytes: ask for the same memory both times", len(was), len(is))
	}
	c := Comparison{Changed: differ(was, is)}
	if len(c.Changed) == 0 {
		return Comparison{}, errors.New("the dumps are the same: change one parameter between them, and store it if the device dumps what is stored")
	}
	both, end := [][]byte{was, is}, len(was)-1
	if sum, ok := sumOf(both); ok {
		c.Sum, end = &sum, sum.At
	}
	c.Layouts = layouts(was, is, end)
	return c, nil
}

func differ(was, is []byte) []Bits {
	var all []Bits
	for i := range was {
		if was[i] != is[i] {
			all = append(all, Bits{At: i, Was: was[i], Is: is[i], Mask: was[i] ^ is[i]})
		}
	}
	return all
}

// A packing is a way in which bytes of 8 bits travel in bytes of 7.
type packing struct {
	name string
	open func(packed []byte) ([]byte, error)
}

var packings = []packing{
	{"file-dump", func(b []byte) ([]byte, error) { return midi.AppendUnpacked(nil, b, midi.FirstHigh) }},
	{"mirrored", func(b []byte) ([]byte, error) { return midi.AppendUnpacked(nil, b, midi.FirstLow) }},
	{"nibbles", func(b []byte) ([]byte, error) { return joinNibbles(b, 4, 0) }},
	{"nibbles low first", func(b []byte) ([]byte, error) { return joinNibbles(b, 0, 4) }},
	{"none", func(b []byte) ([]byte, error) { return b, nil }},
}

func joinNibbles(b []byte, first, second int) ([]byte, error) {
	if len(b)%2 != 0 {
		return nil, errors.New("an odd number of nibbles")
	}
	var joined []byte
	for i := 0; i < len(b); i += 2 {
		if b[i]|b[i+1] > 0x0F {
			return nil, fmt.Errorf("byte %d has more than four bits", i)
		}
		joined = append(joined, b[i]<<first|b[i+1]<<second)
	}
	return joined, nil
}

// The memory begins within the first bytes of a dump: behind the maker's number,
// unit, command and slot (common practice, no source).
const (
	earliest = 2
	latest   = 14
	leastLen = 4
)

// layouts tries every packing from every place. A check that comes out right is
// the proof; without one all that is left is that fewer bytes should differ.
func layouts(was, is []byte, end int) []Layout {
	var all []Layout
	for _, p := range packings {
		for from := earliest; from <= latest && end-from >= leastLen; from++ {
			a, errA := p.open(was[from:end])
			b, errB := p.open(is[from:end])
			if errA != nil || errB != nil || len(a) != len(b) || string(was[:from]) != string(is[:from]) {
				continue
			}
			l := Layout{Packing: p.name, From: from, Bytes: len(a), Changed: differ(a, b)}
			l.look(a, b)
			all = append(all, l)
		}
	}
	slices.SortStableFunc(all, func(a, b Layout) int {
		return cmp.Or(-cmp.Compare(a.proof(), b.proof()), cmp.Compare(a.outside(), b.outside()))
	})
	return all[:min(3, len(all))]
}

// look recognises the check at the end of the memory.
func (l *Layout) look(a, b []byte) {
	kind, at, from, ok := checkOf([][]byte{a, b})
	if !ok {
		return
	}
	l.Check, l.CheckAt, l.Covers = kind, at, from
	for i := range l.Changed {
		l.Changed[i].InCheck = l.Changed[i].At >= at
	}
}

// proof is how much speaks for the layout: a check of two bytes can hardly come
// out right by chance in both dumps, one of one byte may.
func (l Layout) proof() int {
	switch {
	case l.Check == "":
		return 0
	case l.Bytes-l.CheckAt == 2:
		return 2
	}
	return 1
}

// outside is how many bytes differ that are not the check's.
func (l Layout) outside() int {
	n := 0
	for _, b := range l.Changed {
		if !b.InCheck {
			n++
		}
	}
	return n
}
