package transfer

import (
	"fmt"
	"strings"
	"time"

	"echowright/midi"
)

// A RefusedError is a step that the device will not do, however often it is sent.
type RefusedError struct {
	What   string // the step, for people
	Says   string // the device's reason
	Answer []byte // its message
}

func (e *RefusedError) Error() string {
	reason := e.Says
	if reason == "" {
		reason = midi.Hex(e.Answer)
	}
	return fmt.Sprintf("step %q: the device refuses it: %s", e.What, reason)
}

// A NoAnswerError is a step that got no answer, however often it was sent.
type NoAnswerError struct {
	What  string        // the step, for people
	Port  string        // the port's name
	Wait  time.Duration // how long each try waited
	Tries int           // how often it was sent
	Heard Heard         // what came instead
	Other []byte        // the first message that came instead, nil if none did
}

func (e *NoAnswerError) Error() string {
	text := fmt.Sprintf("step %q: no answer over %s, sent %s with %v to answer", e.What, e.Port, times(e.Tries), e.Wait)
	if e.Heard.Bytes == 0 {
		return text + "; nothing came at all: is the device on, connected both ways, and set to this channel or unit number?"
	}
	return text + "; what came was no answer: " + e.Heard.String() + e.example() +
		": is it the device that is meant, and its unit number?"
}

func (e *NoAnswerError) example() string {
	const shown = 12
	switch {
	case e.Other == nil:
		return ""
	case len(e.Other) > shown:
		return fmt.Sprintf(", the first %s … of %d bytes", midi.Hex(e.Other[:shown]), len(e.Other))
	}
	return ", the first " + midi.Hex(e.Other)
}

// String tells the counts in words: "23 bytes in 1 message and 2 real-time messages".
func (h Heard) String() string {
	var parts []string
	for _, p := range []struct {
		n    int
		what string
	}{
		{h.Messages, "message"}, {h.RealTime, "real-time message"}, {h.Broken, "broken SysEx"}, {h.Stray, "stray byte"},
	} {
		if p.n > 0 {
			parts = append(parts, plural(p.n, p.what))
		}
	}
	if len(parts) == 0 {
		parts = []string{"a message without its end"}
	}
	return plural(h.Bytes, "byte") + " in " + strings.Join(parts, ", ")
}

// A GaveUpError is a step that was answered each time that it did not arrive
// whole, or that the device is busy.
type GaveUpError struct {
	What   string        // the step, for people
	Means  midi.Meaning  // Damaged or Busy
	Says   string        // the device's last words
	Tries  int           // how often it was sent
	Waited time.Duration // from the first try on
}

func (e *GaveUpError) Error() string {
	says := ""
	if e.Says != "" {
		says = " (" + e.Says + ")"
	}
	if e.Means == midi.Busy {
		return fmt.Sprintf("step %q: the device is still busy%s after %v, sent %s; leave it alone for a while, then try again",
			e.What, says, e.Waited, times(e.Tries))
	}
	return fmt.Sprintf("step %q: sent %s, it never arrived whole%s; look at the cable, or at another program on the same port",
		e.What, times(e.Tries), says)
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

func plural(n int, what string) string {
	if n == 1 || strings.HasSuffix(what, "SysEx") {
		return fmt.Sprintf("%d %s", n, what)
	}
	return fmt.Sprintf("%d %ss", n, what)
}
