package exchange

import (
	"fmt"
	"time"

	"echowright/midi"
	"echowright/midi/songclock"
	"echowright/preset"
)

// news is what is told about a clock, in words and each thing once: a cable that
// loses a clock now and then is no reason to say so a hundred times.
type news struct {
	begun   bool // a first clock came
	stopped bool // the sender says that the song has stopped
	resting bool // no clock comes any more

	once  [newsKinds]bool
	words []string
}

type newsKind int

const (
	newsNone    newsKind = iota // no clock came at all
	newsStopped                 // stop
	newsUneven                  // clocks that were lost, or came twice or in heaps
	newsBeyond                  // a tempo that the device cannot follow
	newsKinds
)

// clockPatience is how long nothing is said of a clock that does not come at all.
const clockPatience = 5 * time.Second

// uneven is how many clocks may be lost or come twice before that is told: where a
// tempo jumps a few may look so until it is known.
const uneven = 6

func (n *news) hear(message []byte) {
	if len(message) != 1 {
		return
	}
	switch message[0] {
	case midi.TimingClock:
		n.begun = true
	case midi.Stop:
		n.stopped = true
	}
}

func (n *news) tell(k newsKind, format string, args ...any) {
	if !n.once[k] {
		n.once[k] = true
		n.words = append(n.words, fmt.Sprintf(format, args...))
	}
}

func (n *news) beyond(err error) {
	n.tell(newsBeyond, "%v; it keeps the times that it has", err)
}

func (n *news) halved(was, is int, tempo preset.BPM) {
	switch {
	case is > was:
		n.words = append(n.words, fmt.Sprintf("at %.1f BPM the device's reach ends: its times are %s", float64(tempo), halvings(is)))
	case is < was:
		n.words = append(n.words, fmt.Sprintf("at %.1f BPM the device reaches farther again: its times are %s", float64(tempo), halvings(is)))
	}
}

// since is what there is to tell by the state of the clock at a time; held is the
// tempo whose times the device has.
func (n *news) since(s songclock.State, held preset.BPM, gone bool, at time.Duration) []string {
	if !n.begun && at > clockPatience {
		n.tell(newsNone, "no clock has come yet: is its sender on, and told to send MIDI clock?")
	}
	if n.stopped {
		n.tell(newsStopped, "the song has stopped; as long as the clock goes on it is followed")
	}
	if s.Missing+s.Doubled > uneven {
		n.tell(newsUneven, "the clock is uneven (so far %d lost, %d twice or in a heap): the tempo is followed through that", s.Missing, s.Doubled)
	}
	if rests := n.begun && gone; rests != n.resting {
		n.resting = rests
		n.words = append(n.words, restWords(rests, s.Tempo, held))
	}
	words := n.words
	n.words = nil
	return words
}

func restWords(rests bool, tempo, held preset.BPM) string {
	switch {
	case !rests:
		return "the clock is back"
	case tempo == 0:
		return "the clock has stopped before its tempo was known"
	case held == 0:
		return "the clock has stopped before anything was set"
	}
	return fmt.Sprintf("the clock has stopped: the device keeps the times of %.1f BPM", float64(held))
}
