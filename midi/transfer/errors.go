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
	Held  bool          // the device asked to hold on, and said nothing more
	Heard Heard         // what came instead
	Other []byte        // the first message that came instead, nil if none did
}

func (e *NoAnswerError) Error() string {
	if e.Held {
		return fmt.Sprintf("step %q: no answer over %s: the device asked to hold on, and has said nothing more for %v; is it still on, and what does it show?", e.What, e.Port, e.Wait)
	}
	text := fmt.Sprintf("step %q: no answer over %s, sent %s with %v to answer", e.What, e.Port, times(e.Tries), e.Wait)
	if e.Heard.Bytes == 0 {
		return text + "; nothing came at all: is the device on, connected both ways, and set to this channel or unit number?"
	}
	example := ""
	if e.Other != nil {
		example = ", the first " + excerpt(e.Other)
	}
	return text + "; what came was no answer: " + e.Heard.String() + example +
		": is it the device that is meant, and its unit number?"
}

// excerpt is a message in hex, and of a long one its beginning.
func excerpt(message []byte) string {
	const shown = 12
	if len(message) > shown {
		return fmt.Sprintf("%s … of %d bytes", midi.Hex(message[:shown]), len(message))
	}
	return midi.Hex(message)
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
// whole, or that the device is busy, or that asked to hold on again and again.
type GaveUpError struct {
	What   string        // the step, for people
	Means  midi.Meaning  // Damaged, Busy or Hold
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
			e.What, says, told(e.Waited), times(e.Tries))
	}
	if e.Means == midi.Hold {
		return fmt.Sprintf("step %q: the device asks to hold on again and again%s, and has not decided after %v; look at what it shows, then try again",
			e.What, says, told(e.Waited))
	}
	return fmt.Sprintf("step %q: sent %s, it never arrived whole%s; look at the cable, or at another program on the same port",
		e.What, times(e.Tries), says)
}

// A StuckError is a port that takes nothing any more.
type StuckError struct {
	Port     string
	Sent, Of int           // bytes of the piece
	Waited   time.Duration // for this piece
}

func (e *StuckError) Error() string {
	return fmt.Sprintf("port %s: sending: %d of %d bytes went in %v, and no more do: is the cable in, and the device on? Unplug it and plug it in again",
		e.Port, e.Sent, e.Of, told(e.Waited))
}

// told is a time that was measured, as closely as anybody wants to know it.
func told(d time.Duration) time.Duration { return d.Round(10 * time.Millisecond) }

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
