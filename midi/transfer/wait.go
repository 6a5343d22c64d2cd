package transfer

import (
	"context"
	"fmt"
	"time"

	"echowright/midi"
)

const (
	// A SysEx that has begun is waited for beyond the time-out as long as its
	// bytes come: talking over it would lose two messages.
	lull = 100 * time.Millisecond
	// But no longer than this: the longest dumps we know, 32 kB, take 10.5 s.
	longestMessage = 15 * time.Second
)

// nothing is the meaning of silence.
const nothing midi.Meaning = 0

// A hearing is what a step heard: an answer, or nothing.
type hearing struct {
	means   midi.Meaning
	says    string
	message []byte
}

func (h hearing) reason() string {
	words := map[midi.Meaning]string{nothing: "no answer", midi.Damaged: "did not arrive whole", midi.Busy: "busy"}[h.means]
	if h.says != "" && h.says != words {
		words += " (" + h.says + ")"
	}
	return words
}

// await waits for a message that fits one of the step's answers. One that says to
// hold on is none yet: then the device may take as long as a busy one.
func (t *turn) await(ctx context.Context, until time.Time) (hearing, error) {
	for {
		message, ok, err := t.link.wait(ctx, until)
		if err != nil || !ok {
			return hearing{}, err
		}
		a, fits := t.step.Answer(message)
		if fits && a.Means == midi.Hold {
			t.link.remark("%s: the device asks to hold on", t.step.What)
			until = t.link.options.Clock.Now().Add(t.link.options.BusyTotal)
			continue
		}
		if fits {
			t.unheard = max(0, t.unheard-1)
			return hearing{means: a.Means, says: a.Says, message: message}, nil
		}
		if t.other == nil {
			t.other = message
		}
		t.link.remark("%s: %s: not an answer to this, put aside", t.step.What, midi.Hex(message))
	}
}

// wait gives the next message; ok is false if none comes in time. An error is
// the context's, or why the port gives nothing any more.
func (l *Link) wait(ctx context.Context, until time.Time) (message []byte, ok bool, err error) {
	limit := until.Add(longestMessage)
	for {
		if message, ok, err = l.inbox.next(); ok || err != nil {
			return message, ok, err
		}
		if ctx.Err() != nil {
			return nil, false, ctx.Err()
		}
		if now := l.options.Clock.Now(); !now.Before(until) {
			last, underWay := l.inbox.underWay()
			until = last.Add(lull)
			if !underWay || !now.Before(until) || !now.Before(limit) {
				return nil, false, nil
			}
		}
		rings, stop := l.options.Clock.alarm(until)
		select {
		case <-l.inbox.rung:
		case <-rings:
		case <-ctx.Done():
		}
		stop()
	}
}

// A debt is what a device may still say to a step that is over: it was sent more
// often than it was answered.
type debt struct {
	step    midi.Step
	answers int
	until   time.Time
}

// settle makes sure that nothing old is met later: it waits for answers owed to
// the step before, and puts aside all that came.
func (l *Link) settle(ctx context.Context) error {
	for l.owed.answers > 0 {
		message, ok, err := l.wait(ctx, l.owed.until)
		if err != nil || !ok {
			break
		}
		if _, fits := l.owed.step.Answer(message); fits {
			l.owed.answers--
			l.remark("%s: late answer to %q", midi.Hex(message), l.owed.step.What)
		} else {
			l.remark("%s: not waited for, put aside", midi.Hex(message))
		}
	}
	l.owed.answers = 0
	for now := l.options.Clock.Now(); ; {
		message, ok, err := l.wait(ctx, now) // which is there, or on its way
		if err != nil || !ok {
			return ctx.Err() // what the port has against it the step will meet itself
		}
		l.remark("%s: not waited for, put aside", midi.Hex(message))
	}
}

// finishing is the context for a message that has begun: it outlives ctx by the
// time of grace, so that no half message is left on the line without need.
func (l *Link) finishing(ctx context.Context) (context.Context, context.CancelFunc) {
	finish, cancel := context.WithCancel(context.WithoutCancel(ctx))
	stop := context.AfterFunc(ctx, func() {
		if l.options.Clock.Sleep(finish, l.options.Grace) == nil {
			cancel()
		}
	})
	return finish, func() {
		stop()
		cancel()
	}
}

// put hands a piece to the port.
func (l *Link) put(ctx context.Context, b []byte) error {
	l.trace.event(Out, b, "")
	return l.port.Send(ctx, b)
}

func (l *Link) remark(format string, args ...any) {
	l.trace.event(Remark, nil, fmt.Sprintf(format, args...))
}
