package preset

import (
	"fmt"
	"strings"
)

// A Mains is a machine's move from one mains frequency to another.
type Mains struct{ From, To Hertz }

// ParseMains reads "50to60" or "60to50", the two frequencies there are.
func ParseMains(s string) (Mains, error) {
	known := map[string]Mains{"50to60": {50, 60}, "60to50": {60, 50}}
	m, ok := known[strings.ToLower(strings.ReplaceAll(s, " ", ""))]
	if !ok {
		return Mains{}, fmt.Errorf("mains %q: write 50to60 or 60to50", s)
	}
	return m, nil
}

// Ratio is how much faster a synchronous motor runs after the move: its speed is
// the mains frequency over the pairs of its poles.
func (m Mains) Ratio() float64 { return float64(m.To / m.From) }

func (m Mains) String() string { return fmt.Sprintf("from %v to %v mains", m.From, m.To) }

// Move is the unit, with a synchronous motor, on the other mains. Its heads are
// not held against a tempo: Note is empty.
func (m Mains) Move(u Unit) Retimed {
	r := Retimed{Unit: u.AtSpeed(m.Ratio()), SpeedRatio: m.Ratio()}
	for i, h := range r.Unit.Heads {
		r.Heads = append(r.Heads, RetimedHead{Head: h.Head, Delay: h.Delay, Shift: h.Delay - u.Heads[i].Delay})
	}
	return r
}
