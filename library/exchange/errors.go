package exchange

import (
	"fmt"
	"math"
	"strconv"

	"echowright/library"
	"echowright/preset"
	"echowright/profiles"
)

// Holds says what a slot holds in the end.
type Holds string

// All that a slot can hold.
const (
	HoldsAsked   Holds = "asked"   // what it was to hold
	HoldsBefore  Holds = "before"  // what it held before
	HoldsUnknown Holds = "unknown" // the one, the other, or half of each
)

// A DiffersError says that a slot, read back, held something else than was
// written to it.
type DiffersError struct {
	Slot        int
	Differences []profiles.Difference // none where it is no setting, or differs in what means no parameter
	Fault       error                 // why it is no setting
}

func (e *DiffersError) Error() string {
	text := "it was written, but then held something else" // which slot, whoever wraps it says
	if e.Fault != nil {
		return fmt.Sprintf("%s, which is no setting: %v", text, e.Fault)
	}
	if len(e.Differences) == 0 {
		return text + " in bytes that mean no parameter"
	}
	const shown = 3
	for i, d := range e.Differences {
		if i == shown {
			text += fmt.Sprintf(", and %d more", len(e.Differences)-i)
			break
		}
		text += fmt.Sprintf("; %s: wanted %s, got %s", d.Parameter, Figure(d.Was), Figure(d.Is))
	}
	return text
}

// Figure is a value of a [profiles.Difference] for people: three decimals at most.
func Figure(value any) string {
	n, ok := value.(float64)
	if !ok {
		return fmt.Sprint(value)
	}
	const fine = 1000
	return strconv.FormatFloat(math.Round(n*fine)/fine+0, 'f', -1, 64) // + 0: never "-0"
}

func (e *DiffersError) Unwrap() error { return e.Fault }

// An UnwrittenError says why slots were not written as they should have been,
// and what each of them holds now.
type UnwrittenError struct {
	Slot      int   // the one at which it ended
	Holds     Holds // what that one holds
	Readable  bool  // the device was asked: what it holds was read, not only concluded
	Done      []int // slots written before it; they hold what was asked for
	Untouched []int // slots that were to come after it
	Snapshot  string
	Intent    string // what stays in the journal, "" where all is settled
	Err       error
}

func (e *UnwrittenError) Unwrap() error { return e.Err }

func (e *UnwrittenError) Error() string {
	text := fmt.Sprintf("writing slot %d: %v; %s", e.Slot, e.Err, e.now())
	if len(e.Done) > 0 {
		text += fmt.Sprintf("; %s done and verified before it", library.SlotWords(e.Done))
	}
	if len(e.Untouched) > 0 {
		text += fmt.Sprintf("; %s not touched", library.SlotWords(e.Untouched))
	}
	if e.Snapshot != "" {
		text += "; what was there before is kept as " + e.Snapshot
	}
	if e.Intent != "" {
		text += "; `echowright resume` finishes it, `echowright resume --put-back` puts back what was there"
	}
	return text
}

func (e *UnwrittenError) now() string {
	proof := ": read back and verified"
	if !e.Readable {
		proof = ", as far as can be told of a device that cannot be read"
	}
	switch e.Holds {
	case HoldsAsked:
		return "the slot holds what was asked for all the same" + proof
	case HoldsBefore:
		return "the slot holds what it held before" + proof
	}
	return "whether the slot holds the old or the new, or half of each, is not known"
}

// A RunawayError refuses a setting whose loop grows with every turn.
type RunawayError struct {
	Slot int
	Gain preset.Decibels // the loop's greatest, of one turn
}

func (e *RunawayError) Error() string {
	return fmt.Sprintf("slot %d: the loop's gain can reach %+.1f dB a turn: each repeat louder than the one before, until something gives (loudspeakers, ears); "+
		"nothing was sent: lower the loop, or give --allow-runaway and turn everything down first", e.Slot, float64(e.Gain))
}

// An OpenError says that something that was begun earlier on the same port has
// not come to its end.
type OpenError struct {
	Intent, Doing, Port string
	Slots               []int
}

func (e *OpenError) Error() string {
	return fmt.Sprintf("a %s of %s on %s, begun as %s, has not come to its end; nothing was sent: `echowright resume` finishes it first, "+
		"`echowright resume --put-back` puts back what was there", e.Doing, library.SlotWords(e.Slots), e.Port, e.Intent)
}
