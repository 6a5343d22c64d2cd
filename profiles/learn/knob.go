package learn

import (
	"cmp"
	"slices"

	"echowright/midi"
)

// A Kind is the form in which a device tells of a parameter.
type Kind string

// The kinds of messages that a knob may send.
const (
	Control   Kind = "control"          // a control change of 7 bits
	Pair      Kind = "control pair"     // two control changes, 14 bits
	NRPN      Kind = "nrpn"             // a non-registered parameter
	RPN       Kind = "rpn"              // a registered parameter
	Program   Kind = "program"          // a program change
	Pressure  Kind = "pressure"         // a channel pressure
	Bend      Kind = "pitch bend"       // a pitch bend, 14 bits
	Exclusive Kind = "system exclusive" // a System Exclusive message
)

// A Finding is one message that moved, and how.
type Finding struct {
	Kind     Kind
	Channel  midi.Channel // 0 for System Exclusive
	Number   int          // of the controller, or 14 bits of the (N)RPN
	Low      int          // the controller of a pair's low half
	Least    int          // the range of codes that was seen
	Greatest int
	Distinct int // how many different codes
	Messages int // how many times it was set

	HighFirst bool   // the high half comes first: of a pair's value, of an (N)RPN's number
	Fourteen  bool   // an (N)RPN has a value of two halves
	Null      bool   // an (N)RPN is closed with the null parameter
	Shape     *Shape // of System Exclusive
}

// Knob says which messages moved while one knob was turned, the likeliest first:
// the one with the most different codes. Messages are whole, with their status
// bytes, as a midi.Framer gives them; clocks and active sensing are passed over.
func Knob(messages [][]byte) []Finding {
	var channel, exclusive [][]byte
	for _, m := range messages {
		switch {
		case len(m) == 0 || m[0] >= midi.TimingClock:
		case m[0] == midi.StartOfSysEx:
			exclusive = append(exclusive, m)
		case m[0] < midi.StartOfSysEx:
			channel = append(channel, m)
		}
	}
	found := append(controls(channel), shapes(exclusive)...)
	slices.SortStableFunc(found, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(b.Distinct, a.Distinct), cmp.Compare(b.Messages, a.Messages))
	})
	return found
}

// Moved reports whether the message took more than one value.
func (f Finding) Moved() bool { return f.Distinct > 1 }

// Switch reports whether it took two values only, like a switch.
func (f Finding) Switch() bool { return f.Distinct == 2 }

// see counts codes.
func (f *Finding) see(codes []int) {
	f.Messages = len(codes)
	f.Least, f.Greatest = slices.Min(codes), slices.Max(codes)
	sorted := slices.Clone(codes)
	slices.Sort(sorted)
	f.Distinct = len(slices.Compact(sorted))
}
