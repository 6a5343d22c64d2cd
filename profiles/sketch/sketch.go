// Package sketch turns the answers to a few questions about a device into a
// commented device profile to go on from: a whole and consistent one, with every
// figure that only the manual knows marked as such.
package sketch

import (
	_ "embed"
	"fmt"
	"strings"
	"text/template"
)

// Speaks says by what messages a device is set.
type Speaks string

// The ways to speak to a device that can be sketched.
const (
	ByControl   Speaks = "control"   // control changes of 7 bits
	ByPairs     Speaks = "pairs"     // control changes, times by pairs of them
	ByNRPN      Speaks = "nrpn"      // non-registered parameters
	ByExclusive Speaks = "exclusive" // System Exclusive with an address
)

// Loop says what a device feeds back.
type Loop string

// The loops that can be sketched.
const (
	LoopOwn Loop = "line" // each line its own output
	LoopTap Loop = "tap"  // one tap, chosen by a parameter
	LoopSum Loop = "sum"  // the sum of the taps
	NoLoop  Loop = "none"
)

// Answers are what is asked about a device.
type Answers struct {
	Name    string
	Title   string
	Lines   int // delay lines, each a memory of its own
	Taps    int // taps on each of them
	Loop    Loop
	Sources bool // each line can take another one's output for its input
	Speaks  Speaks
	Longest float64 // the longest time in ms
	Codes   int     // how many codes a time has
	Slots   int     // memory places, 0 if none can be reached
}

// Most of what a sketch takes; a profile takes more.
const (
	mostLines = 8
	mostTaps  = 16
	mostSlots = 128
)

// Check says which answer cannot be.
func (a Answers) Check() error {
	tapped := a.Taps > 1
	switch {
	case a.Name == "":
		return fmt.Errorf("the device needs a name")
	case a.Lines < 1 || a.Lines > mostLines:
		return fmt.Errorf("%d delay lines: from 1 to %d", a.Lines, mostLines)
	case a.Taps < 1 || a.Taps > mostTaps:
		return fmt.Errorf("%d taps on a line: from 1 to %d", a.Taps, mostTaps)
	case a.Slots < 0 || a.Slots > mostSlots:
		return fmt.Errorf("%d memory places: from 0 to %d; more are written into the profile by hand", a.Slots, mostSlots)
	case a.Longest <= 0 || a.Longest > 60_000:
		return fmt.Errorf("a longest time of %v ms: above 0, up to 60000", a.Longest)
	case a.Codes < 2 || a.Codes > 16384:
		return fmt.Errorf("%d codes for a time: from 2 to 16384", a.Codes)
	case (a.Speaks == ByControl) && a.Codes > 128:
		return fmt.Errorf("%d codes for a time: a control change has 128; more need pairs, nrpn or exclusive", a.Codes)
	case a.Loop == LoopOwn && tapped:
		return fmt.Errorf("a line with %d taps has no output of its own to feed back: say whether one tap or their sum is fed back", a.Taps)
	case (a.Loop == LoopTap || a.Loop == LoopSum) && !tapped:
		return fmt.Errorf("a line with one tap feeds back its own output: say line, or none")
	case a.Sources && (tapped || a.Lines < 2):
		return fmt.Errorf("sources are for several lines of one tap each")
	}
	return a.known()
}

func (a Answers) known() error {
	if !strings.Contains(" line tap sum none ", " "+string(a.Loop)+" ") {
		return fmt.Errorf("loop %q: line, tap, sum or none", a.Loop)
	}
	if !strings.Contains(" control pairs nrpn exclusive ", " "+string(a.Speaks)+" ") {
		return fmt.Errorf("messages %q: control, pairs, nrpn or exclusive", a.Speaks)
	}
	return nil
}

//go:embed sketch.tmpl
var form string

// Profile is the device profile. Answers that fail Check give its error.
func (a Answers) Profile() ([]byte, error) {
	if err := a.Check(); err != nil {
		return nil, err
	}
	t, err := template.New("sketch").Parse(form)
	if err != nil {
		return nil, err
	}
	var out strings.Builder
	sheet := newSheet(a)
	if err := t.Execute(&out, sheet); err != nil {
		return nil, err
	}
	if sheet.next.full {
		return nil, fmt.Errorf("there are not enough controllers for all parameters of %d lines with %d taps: such a device speaks nrpn or exclusive", a.Lines, a.Taps)
	}
	return []byte(out.String()), nil
}
