package midi

import (
	"errors"
	"fmt"
	"time"
)

// A Step is one message to a device and the answers it may give: inert data,
// used alike for a dry run, a transfer, and golden files.
type Step struct {
	What    string        // for people: "line a time = 121.0 ms"
	Send    []byte        // whole message or messages, such as the control changes that set one parameter
	Answers []Answer      // what may come back, looked through in order; empty: nothing is waited for
	Timeout time.Duration // how long to wait for the first fitting answer, counted from the end of the message
	Gap     time.Duration // the silence that the device needs after each message of it
	Follows bool          // it answers what came before it: nothing that came since is put aside
	Silence Meaning       // what no answer stands for: 0 for Damaged; or Done; or Refused, never sent again
}

// An Answer is a message that may come back, and what it says.
type Answer struct {
	Match Match
	Means Meaning
	Says  string // for people: "checksum", "busy", "routing"
}

// A Meaning is what an answer stands for. The zero value stands for nothing, so
// that a forgotten one is found by [Step.Check].
type Meaning int

// The meanings of an answer.
const (
	Done    Meaning = iota + 1 // acknowledged
	Data                       // what was asked for
	Busy                       // try again after a while
	Damaged                    // did not arrive whole: send again
	Refused                    // will not be done, however often it is sent
	Hold                       // not decided yet: the answer follows, do not send again
)

var meaningNames = [...]string{Done: "done", Data: "data", Busy: "busy", Damaged: "damaged", Refused: "refused", Hold: "hold"}

func (m Meaning) String() string {
	if m < Done || m > Hold {
		return fmt.Sprintf("Meaning(%d)", int(m))
	}
	return meaningNames[m]
}

// ParseMeaning reads the word that String writes.
func ParseMeaning(s string) (Meaning, error) {
	for m := Done; m <= Hold; m++ {
		if meaningNames[m] == s {
			return m, nil
		}
	}
	return 0, fmt.Errorf("meaning of an answer %q: it is one of done, data, busy, damaged, refused, hold", s)
}

// Answer is the first of the step's answers that fits the message.
func (s Step) Answer(message []byte) (Answer, bool) {
	for _, a := range s.Answers {
		if a.Match.Fits(message) {
			return a, true
		}
	}
	return Answer{}, false
}

// Check says what makes the step impossible to run: nothing to send, bytes that
// do not begin with a status, an answer without a meaning or a pattern, an answer without time to wait.
func (s Step) Check() error {
	if err := s.fault(); err != nil {
		return fmt.Errorf("step %q: %w", s.What, err)
	}
	return nil
}

func (s Step) fault() error {
	switch {
	case len(s.Send) == 0:
		return errors.New("it sends nothing")
	case s.Send[0] < 0x80:
		return fmt.Errorf("its message begins with %02X: wanted a status byte, 80 to FF", s.Send[0])
	case s.Timeout < 0 || s.Gap < 0:
		return fmt.Errorf("timeout %v and gap %v: neither can be below 0", s.Timeout, s.Gap)
	case len(s.Answers) > 0 && s.Timeout == 0:
		return errors.New("it has answers, but a timeout of 0 to wait for them")
	case s.Silence != 0 && s.Silence != Done && s.Silence != Damaged && s.Silence != Refused:
		return fmt.Errorf("silence stands for %v: wanted done, damaged or refused", s.Silence)
	}
	for i, a := range s.Answers {
		if a.Means < Done || a.Means > Hold {
			return fmt.Errorf("answer %d (%s) has no meaning", i+1, a.Match)
		}
		if err := a.Match.check(); err != nil {
			return fmt.Errorf("answer %d: %w", i+1, err)
		}
	}
	return nil
}
