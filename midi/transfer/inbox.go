package transfer

import (
	"bytes"
	"context"
	"sync"
	"time"

	"echowright/midi"
	"echowright/midi/port"
)

// inboxBytes is how much is kept while nobody looks; beyond it the oldest goes.
const inboxBytes = 1 << 20

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

// An inbox takes in all that comes over a port and keeps the whole messages,
// real-time ones aside, until they are asked for.
type inbox struct {
	clock Clock
	trace *tracer

	mu       sync.Mutex
	framer   midi.Framer
	messages [][]byte
	size     int // of the messages, in bytes
	heard    Heard
	last     time.Time // when the last bytes came
	err      error     // why nothing comes any more

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
	case f.Fault != midi.Whole:
		in.heard.Broken++
		in.trace.event(In, f.Bytes, f.Fault.String())
	default:
		in.heard.Messages++
		in.trace.event(In, f.Bytes, "")
		in.keep(bytes.Clone(f.Bytes))
	}
}

func (in *inbox) keep(message []byte) {
	in.messages = append(in.messages, message)
	in.size += len(message)
	for in.size > inboxBytes && len(in.messages) > 1 {
		in.drop()
	}
}

func (in *inbox) drop() {
	in.size -= len(in.messages[0])
	in.messages[0] = nil
	in.messages = in.messages[1:]
}

// next is the oldest message that was not asked for yet. If there is none, err
// says whether there can be another.
func (in *inbox) next() (message []byte, ok bool, err error) {
	in.mu.Lock()
	defer in.mu.Unlock()
	if len(in.messages) == 0 {
		return nil, false, in.err
	}
	message = in.messages[0]
	in.drop()
	return message, true, nil
}

func (in *inbox) count() Heard {
	in.mu.Lock()
	defer in.mu.Unlock()
	return in.heard
}

// underWay says when the last bytes came of a SysEx that has not ended; ok is
// false if there is none.
func (in *inbox) underWay() (last time.Time, ok bool) {
	in.mu.Lock()
	defer in.mu.Unlock()
	return in.last, in.framer.InSysEx()
}
