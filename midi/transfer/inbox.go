package transfer

import (
	"bytes"
	"context"
	"sync"
	"time"

	"echowright/midi"
	"echowright/midi/port"
)

const (
	// inboxBytes is how much is kept while nobody looks; beyond it the oldest goes.
	inboxBytes = 1 << 20
	// keeping is what a message takes beside its own bytes.
	keeping = 64
)

// Heard counts what came over a port. Real-time messages stand by themselves:
// clocks and active sensing come and go without a meaning for an answer.
type Heard struct {
	Bytes    int
	Messages int // whole ones, but for real-time messages
	RealTime int // real-time messages
	Broken   int // SysEx without an end, or longer than the limit
	Stray    int // bytes that belong to no message
}

// since is what came after the earlier count.
func (h Heard) since(earlier Heard) Heard {
	return Heard{
		Bytes: h.Bytes - earlier.Bytes, Messages: h.Messages - earlier.Messages, RealTime: h.RealTime - earlier.RealTime,
		Broken: h.Broken - earlier.Broken, Stray: h.Stray - earlier.Stray,
	}
}

// A letter is a message that came, and when it began.
type letter struct {
	message []byte
	began   time.Time
}

// An inbox takes in all that comes over a port and keeps the whole messages,
// real-time ones aside, until they are asked for.
type inbox struct {
	clock Clock
	trace *tracer

	mu      sync.Mutex
	framer  midi.Framer
	letters []letter
	size    int // of the letters, in bytes of memory
	heard   Heard
	began   time.Time // when the message under way began, or the next one at the earliest
	last    time.Time // when the last bytes came
	err     error     // why nothing comes any more

	rung chan struct{} // holds something if there is news
}

func newInbox(o Options, trace *tracer) *inbox {
	return &inbox{clock: o.Clock, trace: trace, framer: midi.Framer{Limit: o.Limit}, rung: make(chan struct{}, 1)}
}

// listen takes in what comes until the port fails or ctx ends.
func (in *inbox) listen(ctx context.Context, p port.Port) {
	for {
		b, err := p.Receive(ctx)
		if err != nil {
			in.mu.Lock()
			in.err = err
			in.mu.Unlock()
			in.ring()
			return
		}
		in.take(b)
		in.ring()
	}
}

func (in *inbox) ring() {
	select {
	case in.rung <- struct{}{}:
	default: // it was rung already
	}
}

func (in *inbox) take(b []byte) {
	in.mu.Lock()
	defer in.mu.Unlock()
	in.last = in.clock.Now()
	if !in.framer.InSysEx() {
		in.began = in.last
	}
	in.heard.Bytes += len(b)
	in.framer.Feed(b, in.sort)
	if stray := int(in.framer.Stray()) - in.heard.Stray; stray > 0 {
		in.heard.Stray += stray
		in.trace.event(In, nil, plural(stray, "byte")+" outside any message")
	}
}

func (in *inbox) sort(f midi.Frame) {
	switch {
	case f.RealTime():
		in.heard.RealTime++
		in.trace.event(In, f.Bytes, "real-time")
		return
	case f.Fault != midi.Whole:
		in.heard.Broken++
		in.trace.event(In, f.Bytes, f.Fault.String())
	default:
		in.heard.Messages++
		in.trace.event(In, f.Bytes, "")
		in.keep(bytes.Clone(f.Bytes))
	}
	in.began = in.last // whatever follows in the same bytes
}

func (in *inbox) keep(message []byte) {
	in.letters = append(in.letters, letter{message, in.began})
	in.size += len(message) + keeping
	for in.size > inboxBytes && len(in.letters) > 1 {
		in.drop()
	}
}

func (in *inbox) drop() {
	in.size -= len(in.letters[0].message) + keeping
	in.letters[0] = letter{}
	in.letters = in.letters[1:]
}

// next is the oldest message that was not asked for yet, if it began by then. If
// there is none, err says whether there can be another.
func (in *inbox) next(until time.Time) (message []byte, ok bool, err error) {
	in.mu.Lock()
	defer in.mu.Unlock()
	switch {
	case len(in.letters) == 0:
		return nil, false, in.err
	case in.letters[0].began.After(until):
		return nil, false, nil
	}
	message = in.letters[0].message
	in.drop()
	return message, true, nil
}

// clear puts aside all that is there and says how many messages it was.
func (in *inbox) clear() int {
	in.mu.Lock()
	defer in.mu.Unlock()
	n := len(in.letters)
	in.letters, in.size = nil, 0
	return n
}

func (in *inbox) count() Heard {
	in.mu.Lock()
	defer in.mu.Unlock()
	return in.heard
}

// underWay says when the last bytes came of a SysEx that began by then and has
// not ended; ok is false if there is none.
func (in *inbox) underWay(until time.Time) (last time.Time, ok bool) {
	in.mu.Lock()
	defer in.mu.Unlock()
	return in.last, in.framer.InSysEx() && !in.began.After(until)
}
