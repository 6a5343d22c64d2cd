package learn

import (
	"cmp"
	"slices"

	"echowright/midi"
)

// A Shape is what all messages of one kind have in common: which bytes moved, how
// they make one number, and which of them is a checksum.
type Shape struct {
	Example []byte // the first message
	At      int    // the first byte of the value
	Count   int    // how many bytes it has
	Bits    int    // of each byte: 7, or 4 for nibbles
	LowBits bool   // the low bits come first
	Sum     *Sum   // nil where none was recognised
	Apart   []int  // bytes that moved too and are in neither
}

// shapes finds what moved among System Exclusive messages: those of one length and
// one beginning are of one kind.
func shapes(messages [][]byte) []Finding {
	kinds := map[string][][]byte{}
	var order []string
	for _, m := range messages {
		if len(m) < 5 || m[len(m)-1] != midi.EndOfSysEx {
			continue
		}
		k := string(m[1:3]) + string(rune(len(m)))
		if kinds[k] == nil {
			order = append(order, k)
		}
		kinds[k] = append(kinds[k], m)
	}
	var found []Finding
	for _, k := range order {
		found = append(found, shape(kinds[k]))
	}
	return found
}

func shape(messages [][]byte) Finding {
	s := Shape{Example: slices.Clone(messages[0]), Bits: 7}
	end := len(s.Example) - 1
	if sum, ok := sumOf(messages); ok {
		s.Sum, end = &sum, sum.At
	}
	s.place(moving(messages, end))
	f := Finding{Kind: Exclusive, Messages: len(messages), Shape: &s}
	if s.Count == 0 {
		f.Distinct = 1
		return f
	}
	s.order(messages)
	codes := make([]int, len(messages))
	for i, m := range messages {
		codes[i] = s.code(m)
	}
	f.see(codes)
	return f
}

func moving(messages [][]byte, end int) []int {
	var at []int
	for i := 1; i < end; i++ {
		if moves(messages, i) {
			at = append(at, i)
		}
	}
	return at
}

// place takes the last run of bytes that moved for the value: numbers and
// addresses come before values in every manual (common practice, no source).
func (s *Shape) place(at []int) {
	if len(at) == 0 {
		return
	}
	first := len(at) - 1
	for first > 0 && at[first-1] == at[first]-1 {
		first--
	}
	s.At, s.Count, s.Apart = at[first], len(at)-first, slices.Clone(at[:first])
	const widest = 4
	if s.Count > widest {
		s.Apart = append(s.Apart, at[first:len(at)-widest]...)
		s.At, s.Count = at[len(at)-widest], widest
	}
}

// order finds how the bytes make a number: as nibbles if none has more than four
// bits, and in that order in which a knob turned from end to end gives a number
// that moves in the smaller steps.
func (s *Shape) order(messages [][]byte) {
	nibbles := holds(messages, func(m []byte) bool {
		return !slices.ContainsFunc(m[s.At:s.At+s.Count], func(b byte) bool { return b > 0x0F })
	})
	if nibbles && s.Count > 1 {
		s.Bits = 4
	}
	s.LowBits = false
	high := s.travel(messages)
	s.LowBits = true
	s.LowBits = s.travel(messages) < high
}

// travel is the way that the number goes, step by step.
func (s *Shape) travel(messages [][]byte) int {
	way := 0
	for i := 1; i < len(messages); i++ {
		step := s.code(messages[i]) - s.code(messages[i-1])
		way += max(step, -step)
	}
	return way
}

func (s *Shape) code(m []byte) int {
	code := 0
	for i := range s.Count {
		k := i
		if s.LowBits {
			k = s.Count - 1 - i
		}
		code = code<<s.Bits | int(m[s.At+k])
	}
	return code
}

// Places compares what two knobs send: the bytes that differ between their
// messages, and stand in neither's value nor checksum, are the parameter's number.
// They come sorted; none if the messages are not of one kind.
func Places(a, b Finding) []int {
	if a.Shape == nil || b.Shape == nil || len(a.Shape.Example) != len(b.Shape.Example) {
		return nil
	}
	var at []int
	for i := range a.Shape.Example {
		if a.Shape.Example[i] != b.Shape.Example[i] && !a.Shape.holds(i) && !b.Shape.holds(i) {
			at = append(at, i)
		}
	}
	slices.SortFunc(at, cmp.Compare)
	return at
}

// holds reports whether byte i belongs to the value or is the checksum.
func (s *Shape) holds(i int) bool {
	return s.Count > 0 && i >= s.At && i < s.At+s.Count || s.Sum != nil && i == s.Sum.At
}
