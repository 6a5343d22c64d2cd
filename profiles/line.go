package profiles

import "echowright/preset"

// A Line is one memory with what it is read by: its taps, its loop, and for each
// role the index of its own parameter, None where it has none.
type Line struct {
	Name string
	// Taps are the places at which the memory is read, one at the least. A line
	// whose profile names no taps is its own single tap.
	Taps       []Tap
	Loop       Loop
	parameters map[Role]int
	named      bool // the taps have names of their own
}

// A Tap is one place at which a line's memory is read and heard.
type Tap struct {
	Name       string // "" where the line is its own single tap
	parameters map[Role]int
}

// Parameter is the index, in the device's list, of the line's parameter of that
// role. A line that is its own single tap has that tap's parameters too.
func (l Line) Parameter(r Role) int { return indexOf(l.parameters, r) }

// Has reports whether the line has a parameter of that role.
func (l Line) Has(r Role) bool { return l.Parameter(r) != None }

// Tapped reports whether the line is read by taps that have parameters of their
// own; otherwise its single tap is the line itself.
func (l Line) Tapped() bool { return l.named }

// Parameter is the index, in the device's list, of the tap's parameter of that role.
func (t Tap) Parameter(r Role) int { return indexOf(t.parameters, r) }

// Has reports whether the tap has a parameter of that role.
func (t Tap) Has(r Role) bool { return t.Parameter(r) != None }

func indexOf(parameters map[Role]int, r Role) int {
	if i, ok := parameters[r]; ok {
		return i
	}
	return None
}

// A Loop is what a line feeds back to its own beginning, as much as the line's
// parameter of RoleFeedback says.
type Loop struct {
	From LoopFrom
	// Tap is the index of the tap that is always fed back, None where the line's
	// parameter of RoleFeedbackTap chooses one or the loop comes from elsewhere.
	Tap   int
	After bool // fed back after the tap's own level and polarity
	Tone  ToneAt
}

// LoopFrom says from where a line feeds back.
type LoopFrom string

// The loops that there are.
const (
	LoopLine LoopFrom = "line" // the line's own single tap
	LoopTap  LoopFrom = "tap"  // one of its taps
	LoopSum  LoopFrom = "sum"  // all of its taps together
)

// ToneAt says where a line's cuts stand.
type ToneAt string

// The places of the cuts.
const (
	ToneMemory ToneAt = "memory" // at its input: all that passes the line, every turn again
	ToneLoop   ToneAt = "loop"   // only what is fed back
	ToneOutput ToneAt = "output" // only what is heard of the line, once
)

// Limits are what the times of a setting must keep to; 0 stands for no limit.
type Limits struct {
	Longest   preset.Millis // of any tap
	Total     preset.Millis // of all lines together, each with its longest tap
	Distance  preset.Millis // the least between two taps of a line
	Ascending bool          // the taps of a line stand in the order of their times
}

// FeedbackTap is the index of the tap that the setting feeds back: None for a
// loop from all taps together.
func (d *Device) FeedbackTap(l Line, s Setting) int {
	i := l.Parameter(RoleFeedbackTap)
	switch {
	case l.Loop.From == LoopSum:
		return None
	case i == None:
		return max(l.Loop.Tap, 0)
	}
	word := d.Parameters[i].Scale.Value(s.Codes[i]).Word
	for k, t := range l.Taps {
		if t.Name == word {
			return k
		}
	}
	return None
}
