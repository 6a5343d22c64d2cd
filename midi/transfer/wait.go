package transfer

import (
	"context"
	"errors"
	"fmt"
	"time"

	"echowright/midi"
	"echowright/midi/port"
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
// hold on is none yet: then the device may take as long as a busy one, and ask
// again, but not for ever.
func (t *turn) await(ctx context.Context, until time.Time) (hearing, error) {
	var hold hearing
	for {
		message, ok, err := t.link.wait(ctx, until)
		if err != nil {
			return hearing{}, err
		}
		if !ok && hold.means == midi.Hold { // never what the step's silence stands for
			return hold, t.heldOn(hold)
		}
		if !ok {
			return hearing{}, nil
		}
		a, fits := t.step.Answer(message)
		switch {
		case fits && a.Means == midi.Hold:
			hold = hearing{means: midi.Hold, says: a.Says}
			until = t.holdOn()
			t.link.remark("%s: the device asks to hold on", t.step.What)
		case fits:
			t.unheard = max(0, t.unheard-1)
			return hearing{means: a.Means, says: a.Says, message: message}, nil
		default:
			t.putAside(message)
		}
	}
}

// holdOn is how long a device that asks to hold on is waited for.
func (t *turn) holdOn() time.Time {
	o := t.link.options
	until, last := o.Clock.Now().Add(o.BusyTotal), t.began.Add(o.HoldTotal)
	if last.Before(until) {
		return last
	}
	return until
}

// heldOn is why a device that asked to hold on is not waited for any longer: it
// has said nothing more, or it has asked too often.
func (t *turn) heldOn(hold hearing) error {
	o := t.link.options
	if o.Clock.Now().Before(t.began.Add(o.HoldTotal)) {
		err := t.noAnswer()
		err.Held, err.Wait = true, o.BusyTotal
		return err
	}
	return t.giveUp(hold)
}

// putAside is a message that is no answer: somebody else's, or an old one.
func (t *turn) putAside(message []byte) {
	if t.other == nil {
		t.other = message
	}
	t.link.remark("%s: %s: not an answer to this, put aside", t.step.What, excerpt(message))
}

// wait gives the next message that began by then; ok is false if there is none.
// What begins later is left for later, or a line that is never still would be
// listened to for ever. An error is the context's, or why the port gives nothing
// any more.
func (l *Link) wait(ctx context.Context, until time.Time) (message []byte, ok bool, err error) {
	limit := until.Add(longestMessage)
	for wake := until; ; {
		if ctx.Err() != nil { // looked at first: others may go on and on
			return nil, false, ctx.Err()
		}
		if message, ok, err = l.inbox.next(until); ok || err != nil {
			return message, ok, err
		}
		if now := l.options.Clock.Now(); !now.Before(until) {
			last, underWay := l.inbox.underWay(until)
			wake = last.Add(lull)
			if !underWay || !now.Before(wake) || !now.Before(limit) {
				return nil, false, nil
			}
		}
		rings, stop := l.options.Clock.alarm(wake)
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
			l.remark("%s: late answer to %q", excerpt(message), l.owed.step.What)
		} else {
			l.remark("%s: not waited for, put aside", excerpt(message))
		}
	}
	l.owed.answers = 0
	for now := l.options.Clock.Now(); ; {
		message, ok, err := l.wait(ctx, now) // which is there, or on its way
		if err != nil || !ok {
			break // what the port has against it the step will meet itself
		}
		l.remark("%s: not waited for, put aside", excerpt(message))
	}
	if n := l.inbox.clear(); n > 0 { // what came while that one was on its way
		l.remark("%s: not waited for, put aside", plural(n, "message"))
	}
	return ctx.Err()
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

// put hands a piece to the port, which may take the time that the piece needs on
// the wire and a while: a kernel's buffer that nothing empties takes no more.
func (l *Link) put(ctx context.Context, b []byte) (sent int, err error) {
	l.trace.event(Out, b, "")
	began := l.options.Clock.Now()
	waiting, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	stuck := &StuckError{Port: l.options.Name, Of: len(b)}
	go func() {
		if l.options.Clock.Sleep(waiting, l.pace.wireTime(len(b))+l.options.Stuck) == nil {
			stop(stuck)
		}
	}()
	if err = l.port.Send(waiting, b); err == nil {
		return len(b), nil
	}
	sent = port.Sent(err)
	if errors.Is(err, context.Canceled) && context.Cause(waiting) == error(stuck) {
		stuck.Sent, stuck.Waited = sent, l.options.Clock.Now().Sub(began)
		err = stuck
	}
	return sent, err
}

func (l *Link) remark(format string, args ...any) {
	l.trace.event(Remark, nil, fmt.Sprintf(format, args...))
}
