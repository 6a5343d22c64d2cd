package songfile

import (
	"cmp"
	"fmt"
	"slices"
	"sort"
	"time"

	"echowright/midi"
)

// byteOnTheWire is one start bit, eight data bits and one stop bit at 31,250 a
// second (MIDI 1.0 Detailed Specification 4.2.1, page 1).
const byteOnTheWire Micros = 320

// longestSilence keeps every time below 2⁶³: no device is busy for an hour.
const longestSilence Micros = 3_600_000_000

// A Cue is what has to have been sent to a device, and done by it, when the tick
// Ready comes, or by Early before. A player hears no answers, so that only the bytes
// of the steps and the silence behind each of their messages count, not their
// time-outs.
type Cue struct {
	Ready Tick
	Early Micros
	Steps []midi.Step
}

// A Need is how long the messages of a cue take, one after the other.
type Need struct {
	Messages, Bytes int
	Wire            Micros // 320 µs a byte
	Device          Micros // the silence behind each message
}

// Millis is the time in milliseconds, for people.
func (t Micros) Millis() float64 { return float64(t) / 1000 }

// Total is the time on the wire and that of the device.
func (n Need) Total() Micros { return n.Wire + n.Device }

func (n *Need) add(c cued) {
	n.Messages++
	n.Bytes += len(c.bytes)
	n.Wire += c.wire()
	n.Device += c.silence
}

// A PlacedCue is a cue as events. Spare is how long before Ready the device has
// done its work: a little more than Early where messages do not end on a tick.
type PlacedCue struct {
	Need
	Events []Event
	Spare  Micros
}

// A TooNearError says that a cue cannot have been sent when its tick comes, since
// the song begins too late before it.
type TooNearError struct {
	Cue     int // its index
	Ready   Position
	Need    Need
	Missing Micros // at the least: each message also waits for its tick
}

func (e *TooNearError) Error() string {
	return fmt.Sprintf("cue for bar %d, beat %d: it takes %.2f ms, of which %.2f ms would lie before the beginning: lead in with some bars before it",
		e.Ready.Bar, e.Ready.Beat, e.Need.Total().Millis(), e.Missing.Millis())
}

// Place gives each message of each cue its tick: the latest one with which it, and
// the silence that the device wants behind it, have passed before the next message
// begins, or before the cue's own time for the last. So no two messages are on the wire at once,
// be they of one cue or of several, and a device that is busy is left alone. Of two
// cues for one tick the first is sent first. The error may be a [*TooNearError].
func (m TempoMap) Place(cues ...Cue) ([]PlacedCue, error) {
	order := make([]int, len(cues)) // from the last to the first
	for i, c := range cues {
		if c.Ready < 0 || c.Ready > MaxTick {
			return nil, fmt.Errorf("cue for tick %d: wanted 0 to %d", c.Ready, MaxTick)
		}
		if c.Early < 0 || c.Early > longestSilence {
			return nil, fmt.Errorf("cue that is early by %d µs: wanted 0 to %d", c.Early, longestSilence)
		}
		order[len(cues)-1-i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(cues[b].Ready, cues[a].Ready) })
	placed := make([]PlacedCue, len(cues))
	next := MaxTick
	for _, i := range order {
		var err error
		if placed[i], err = m.place(i, cues[i], next); err != nil {
			return nil, err
		}
		if events := placed[i].Events; len(events) > 0 {
			next = events[0].At
		}
	}
	return placed, nil
}

// place sets the messages of one cue, from the last to the first, before the tick at
// which the next cue begins.
func (m TempoMap) place(index int, c Cue, next Tick) (PlacedCue, error) {
	messages, err := cuedOf(c.Steps)
	if err != nil {
		return PlacedCue{}, err
	}
	p := PlacedCue{Events: make([]Event, len(messages))}
	for _, msg := range messages {
		p.add(msg)
	}
	ready := m.exact(c.Ready)
	limit, left := min(m.exact(next), ready-int64(c.Early)*m.division), p.Total()
	for i := len(messages) - 1; i >= 0; i-- {
		msg := messages[i]
		latest := limit - int64(msg.takes())*m.division
		if latest < 0 {
			missing := ceilDiv(int64(left)*m.division-limit, m.division)
			return PlacedCue{}, &TooNearError{Cue: index, Ready: m.PositionAt(c.Ready), Need: p.Need, Missing: Micros(missing)}
		}
		at := m.lastTick(latest)
		if p.Events[i], err = Message(at, msg.bytes); err != nil {
			return PlacedCue{}, fmt.Errorf("%s: %w", msg.what, err)
		}
		limit, left = m.exact(at), left-msg.takes()
		if i == len(messages)-1 {
			p.Spare = Micros((ready-limit)/m.division) - msg.takes()
		}
	}
	return p, nil
}

// exact is the time of a tick in µs × division.
func (m TempoMap) exact(t Tick) int64 { return m.stretchAt(within(t)).exact(within(t)) }

// lastTick is the last tick that comes no later than a time in µs × division.
func (m TempoMap) lastTick(latest int64) Tick {
	s := m.tempi[sort.Search(len(m.tempi), func(i int) bool { return m.tempi[i].start > latest })-1]
	return s.At + Tick((latest-s.start)/int64(s.Tempo))
}

// A cued message stands by itself: no running status.
type cued struct {
	what    string
	bytes   []byte
	silence Micros
}

func (c cued) wire() Micros  { return Micros(len(c.bytes)) * byteOnTheWire }
func (c cued) takes() Micros { return c.wire() + c.silence }

// cuedOf takes steps apart into messages. A status that was left out is written
// out, since nobody knows what a player sends in between.
func cuedOf(steps []midi.Step) ([]cued, error) {
	var all []cued
	for _, s := range steps {
		if err := s.Check(); err != nil {
			return nil, err
		}
		silence := Micros((s.Gap + time.Microsecond - 1) / time.Microsecond)
		if silence > longestSilence {
			return nil, fmt.Errorf("step %q: a silence of %v: wanted an hour at the most", s.What, s.Gap)
		}
		var status byte
		for _, message := range midi.Split(s.Send) {
			if message[0] <= midi.MaxValue7 {
				message = append([]byte{status}, message...)
			}
			status = message[0]
			all = append(all, cued{s.What, message, silence})
		}
	}
	return all, nil
}
