// Package transfer turns steps (messages with the answers they may get) into a
// conversation over a port: paced for the receiver, with time-outs and bounded
// retries, and with what else is on the line told apart from the answer that is
// waited for. It knows no device: what a message means stands in its [midi.Step].
//
// A [Link] is opened on a port and runs steps until it is closed. It follows
// four rules.
//
// Pacing: the wire carries 3125 bytes a second, and what a port accepted faster
// proves nothing about what arrived. Pieces are no larger than the device's
// buffer, each waits until the one before has passed the wire, and after a step
// there is the silence that the device asks for.
//
// Answers: only a message that fits one of a step's patterns is an answer to it.
// Before a step is sent, what came earlier is put aside; and when the step before
// was sent more often than it was answered, the answers still owed are waited for
// (no longer than its time-out), lest they be taken for the next one's.
//
// Busy: a device that is writing its memory answers "busy" and is asked again
// after a while. If the same step had been sent before without an answer, the
// device may be busy with that very one: then an acknowledge that comes during
// the wait is the answer.
//
// Time: a run ends, whatever is on the line and whatever the port does. A step
// waits for no message that began after its time-out, is sent again a few times
// only, is told "busy" and "hold on" no longer than its options say, and a port
// that takes nothing any more is given up.
//
// The newcomer goes on with run.go, then inbox.go and pace.go.
package transfer

import (
	"context"
	"sync"
	"time"

	"echowright/midi/port"
)

// Options are what a device and a line ask for. Zero values stand for the
// defaults.
type Options struct {
	Name      string        // of the port, for errors
	Rate      int           // bytes a second that the receiver takes; default 3125
	Piece     int           // most bytes given to the port at once: at most the device's buffer; default 128
	Retries   int           // how often a step is sent again after silence or damage; default 2, below 0 never
	BusyPause time.Duration // how long a busy device is left alone; default 50 ms
	BusyTotal time.Duration // how long one step waits for a busy device in all; default 5 s
	HoldTotal time.Duration // how long one step takes at most if the device asks to hold on; default 1 min
	Stuck     time.Duration // how long the port may take for a piece beyond its time on the wire; default 3 s
	Grace     time.Duration // for the message under way when the context ends; default 500 ms
	Limit     int           // longest message taken in; default midi.DefaultLimit
	Clock     Clock         // default the system's
	Trace     func(TraceEvent)
	Again     func(what, why string) // told the first time that a step is sent again; by the goroutine that calls Run
}

const (
	wireRate  = 3125 // 31,250 baud with 10 bits a byte (MIDI 1.0, page 1)
	onePiece  = 128
	retries   = 2
	busyPause = 50 * time.Millisecond
	busyTotal = 5 * time.Second
	holdTotal = time.Minute
	stuck     = 3 * time.Second
	grace     = 500 * time.Millisecond
)

func (o Options) withDefaults() Options {
	setDefault(&o.Rate, wireRate)
	setDefault(&o.Piece, onePiece)
	setDefault(&o.Retries, retries)
	setDefault(&o.BusyPause, busyPause)
	setDefault(&o.BusyTotal, busyTotal)
	setDefault(&o.HoldTotal, holdTotal)
	setDefault(&o.Stuck, stuck)
	setDefault(&o.Grace, grace)
	if o.Name == "" {
		o.Name = "the port"
	}
	if o.Clock.Now == nil {
		o.Clock = System()
	}
	return o
}

func setDefault[T int | time.Duration](field *T, value T) {
	if *field == 0 {
		*field = value
	}
}

// A Link is a port in use: what comes in is taken in all the time, also between
// runs, so that nothing old is met later. One goroutine may use it at a time.
type Link struct {
	port    port.Port
	options Options
	inbox   *inbox
	trace   *tracer
	pace    pacer
	owed    debt

	stop func()
	done sync.WaitGroup
}

// Open begins to listen on the port, which belongs to the Link until Close.
func Open(p port.Port, o Options) *Link {
	o = o.withDefaults()
	listening, stop := context.WithCancel(context.Background())
	l := &Link{port: p, options: o, trace: &tracer{clock: o.Clock, tell: o.Trace}, stop: stop}
	l.inbox = newInbox(o, l.trace)
	l.pace = pacer{clock: o.Clock, byteTime: time.Second / time.Duration(o.Rate), piece: o.Piece}
	l.done.Go(func() { l.inbox.listen(listening, p) })
	return l
}

// Close stops listening and closes the port.
func (l *Link) Close() error {
	l.stop()
	err := l.port.Close()
	l.done.Wait()
	return err
}
