package sketch

import (
	"fmt"
	"strings"
)

// A sheet is the answers, worked out for the form.
type sheet struct {
	Answers
	Tapped    bool
	LineNames []string
	TapNames  []string
	Step      string // of the time, in ms
	Last      int    // the last code of a time
	LastSlot  int
	next      *place
}

// A place counts controllers, parameter numbers or addresses as they are given out.
type place struct {
	control, pair, number int
	full                  bool // there are no more controllers
}

// spoken for are controllers that mean something else to every device: bank, data,
// parameter numbers, and the one that the form stores with (M1 table III).
func spokenFor(n int) bool {
	return n == 0 || n == 6 || n == 32 || n == 38 || n >= 96 && n <= 101 || n >= 119
}

// controls gives out so many controllers in a row, from at on.
func (p *place) controls(at, copies int) int {
	for i := 0; i < copies; i++ {
		if at+i > 119 {
			p.full = true
			return at
		}
		if spokenFor(at + i) {
			at, i = at+i+1, -1
		}
	}
	return at
}

// pairs gives out so many pairs in a row: the low halves lie 32 higher.
func (p *place) pairs(copies int) int {
	at := p.controls(p.pair, copies)
	p.full = p.full || at+copies > 32
	p.pair = at + copies
	return at
}

func newSheet(a Answers) sheet {
	s := sheet{Answers: a, Tapped: a.Taps > 1, Last: a.Codes - 1, LastSlot: a.Slots - 1, next: &place{control: 14, pair: 8}}
	if a.Speaks == ByPairs {
		s.next.control = 64 // below are the pairs
	}
	s.Step = strings.TrimRight(strings.TrimRight(fmt.Sprintf("%.6f", a.Longest/float64(a.Codes-1)), "0"), ".")
	for n := range a.Lines {
		s.LineNames = append(s.LineNames, fmt.Sprintf("line-%d", n+1))
	}
	for n := range a.Taps {
		s.TapNames = append(s.TapNames, fmt.Sprintf("tap-%d", n+1))
	}
	return s
}

// Exclusive and Number say what the form must explain.
func (s sheet) Exclusive() bool { return s.Speaks == ByExclusive }
func (s sheet) Number() bool    { return s.Speaks == ByNRPN }
func (s sheet) Pairs() bool     { return s.Speaks == ByPairs }

// Quoted is names as TOML writes them in a list.
func (s sheet) Quoted(names []string) string {
	quoted := make([]string, len(names))
	for i, n := range names {
		quoted[i] = fmt.Sprintf("%q", n)
	}
	return strings.Join(quoted, ", ")
}

// Sources are the choices of a line's source.
func (s sheet) SourceNames() []string { return append([]string{"input"}, s.LineNames...) }

// Copies is how many lines or taps a parameter is there for.
func (s sheet) Copies(level string) int {
	switch {
	case level == "tap":
		return s.Lines * s.Taps
	case level == "line" && s.Tapped:
		return s.Lines * s.Taps // neighbouring lines stand as far apart as their taps reach
	case level == "line":
		return s.Lines
	}
	return 1
}

// Way is the line of the profile that says how a parameter is set: the next free
// controller, number or address. Which they really are, the manual knows.
func (s sheet) Way(level string, wide bool) string {
	copies := s.Copies(level)
	switch s.Speaks {
	case ByExclusive:
		at := s.next.number
		s.next.number += copies
		return fmt.Sprintf("address = %d", at)
	case ByNRPN:
		at := s.next.number
		s.next.number += copies
		return fmt.Sprintf("nrpn = \"%02X %02X\"", at>>7, at&0x7F)
	}
	if wide && s.Speaks == ByPairs {
		at := s.next.pairs(copies)
		return fmt.Sprintf("control = [%d, %d]", at, at+32)
	}
	at := s.next.controls(s.next.control, copies)
	s.next.control = at + copies
	return fmt.Sprintf("control = %d", at)
}

// StepKey is the key that says how far apart neighbours stand.
func (s sheet) StepKey() string {
	switch s.Speaks {
	case ByExclusive:
		return "address_step"
	case ByNRPN:
		return "number_step"
	}
	return "control_step"
}
