package transfer

import (
	"context"
	"errors"
	"fmt"
	"time"

	"echowright/midi"
)

// A Result is what came of a run. It has one reply for each step that was done,
// also where the run ended early: the step under way then was steps[len(Replies)].
type Result struct {
	Replies  []Reply
	Messages int           // MIDI messages sent, those sent again among them
	Bytes    int           // bytes sent
	Elapsed  time.Duration // until the last answer was there, or the last byte sent had passed the wire
}

// A Reply is what a device said to a step.
type Reply struct {
	Message  []byte       // nil for a step that expects no answer
	Means    midi.Meaning // Done or Data; 0 for a step that expects no answer
	Tries    int          // how often the step was sent
	Answered time.Time    // when the answer was there; when it was sent, if it expects none
}

// Run sends the steps one after the other, each when the one before is done. All
// are checked before the first is sent. The error names the step and is a
// *[RefusedError], *[NoAnswerError] or *[GaveUpError] where the device is the
// reason; else it wraps the port's error or the context's.
func (l *Link) Run(ctx context.Context, steps []midi.Step) (Result, error) {
	var r Result
	for _, s := range steps {
		if err := s.Check(); err != nil {
			return r, err
		}
	}
	began := l.options.Clock.Now()
	for _, s := range steps {
		t := turn{link: l, step: s, began: l.options.Clock.Now(), before: l.inbox.count()}
		reply, err := t.run(ctx)
		r.Messages += t.messages
		r.Bytes += t.bytes
		if err != nil {
			r.Elapsed = l.options.Clock.Now().Sub(began)
			return r, t.named(err)
		}
		r.Replies = append(r.Replies, reply)
	}
	// Too late to fail: an ended context only shortens the wait.
	_ = l.options.Clock.sleepUntil(ctx, l.pace.free)
	r.Elapsed = l.options.Clock.Now().Sub(began)
	return r, nil
}

// A turn is one step being done, as often as it takes.
type turn struct {
	link   *Link
	step   midi.Step
	began  time.Time
	before Heard  // what had come before it
	other  []byte // the first message that came and was no answer

	tries    int  // how often it was sent
	unheard  int  // how many of these have no answer
	again    int  // how often there was silence or damage
	told     bool // that it is sent again
	messages int
	bytes    int
}

func (t *turn) named(err error) error {
	var refused *RefusedError
	var silent *NoAnswerError
	var gaveUp *GaveUpError
	if errors.As(err, &refused) || errors.As(err, &silent) || errors.As(err, &gaveUp) {
		return err // they name it themselves
	}
	return fmt.Errorf("step %q: %w", t.step.What, err)
}

func (t *turn) run(ctx context.Context) (Reply, error) {
	l := t.link
	if err := l.options.Clock.sleepUntil(ctx, l.pace.quiet); err != nil {
		return Reply{}, err
	}
	if !t.step.Follows {
		if err := l.settle(ctx); err != nil {
			return Reply{}, err
		}
	}
	defer func() { l.owed = debt{step: t.step, answers: t.unheard, until: l.pace.free.Add(t.step.Timeout)} }()
	for {
		if err := t.send(ctx); err != nil {
			return Reply{}, err
		}
		if len(t.step.Answers) == 0 {
			t.unheard = 0
			return Reply{Tries: t.tries, Answered: l.options.Clock.Now()}, nil
		}
		h, err := t.hear(ctx)
		if err != nil || h.means == midi.Done || h.means == midi.Data {
			return t.reply(h), err
		}
	}
}

func (t *turn) reply(h hearing) Reply {
	return Reply{Message: h.message, Means: h.means, Tries: t.tries, Answered: t.link.options.Clock.Now()}
}

// hear waits for the answer to what was just sent. Without an error it returns
// Done or Data, or anything else if the step is to be sent again.
func (t *turn) hear(ctx context.Context) (hearing, error) {
	h, err := t.await(ctx, t.link.pace.free.Add(t.step.Timeout))
	if err == nil && h.means == midi.Busy {
		h, err = t.leaveAlone(ctx, h)
	}
	if err != nil {
		return h, err
	}
	if h.means == nothing && t.step.Silence != midi.Damaged {
		h.means = t.step.Silence
		if h.means == midi.Refused {
			return h, t.giveUp(hearing{})
		}
	}
	switch h.means {
	case midi.Done, midi.Data, midi.Busy:
		return h, nil
	case midi.Refused:
		return h, &RefusedError{What: t.step.What, Says: h.says, Answer: h.message}
	}
	t.again++
	if t.again > t.link.options.Retries {
		return h, t.giveUp(h)
	}
	t.link.remark("%s: %s, sent again", t.step.What, h.reason())
	t.tellAgain(h)
	return h, nil
}

// tellAgain tells why the step is sent again, the first time only: whoever looks on
// wants to know what is wrong with the line, not to count.
func (t *turn) tellAgain(h hearing) {
	if tell := t.link.options.Again; tell != nil && !t.told {
		tell(t.step.What, h.reason())
	}
	t.told = true
}

// leaveAlone waits while the device is busy, and gives back that it is. If it may
// be busy with this very step, sent before without an answer, then what it says
// of that is the answer; else an answer would be somebody else's.
func (t *turn) leaveAlone(ctx context.Context, busy hearing) (hearing, error) {
	l := t.link
	until := l.options.Clock.Now().Add(l.options.BusyPause)
	if until.Sub(t.began) > l.options.BusyTotal {
		return busy, t.giveUp(busy)
	}
	l.remark("%s: %s, sent again in %v", t.step.What, busy.reason(), l.options.BusyPause)
	t.tellAgain(busy)
	for {
		earlier := t.unheard > 0
		h, err := t.await(ctx, until)
		if err != nil || earlier && (h.means == midi.Done || h.means == midi.Data || h.means == midi.Refused) {
			return h, err
		}
		if h.means == nothing {
			return busy, nil
		}
		t.putAside(h.message)
	}
}

func (t *turn) giveUp(h hearing) error {
	if h.means == nothing {
		return t.noAnswer()
	}
	return &GaveUpError{What: t.step.What, Means: h.means, Says: h.says, Tries: t.tries, Waited: t.link.options.Clock.Now().Sub(t.began)}
}

func (t *turn) noAnswer() *NoAnswerError {
	heard := t.link.inbox.count().since(t.before)
	return &NoAnswerError{What: t.step.What, Port: t.link.options.Name, Wait: t.step.Timeout, Tries: t.tries, Heard: heard, Other: t.other}
}

func (t *turn) send(ctx context.Context) error {
	l := t.link
	finish, cancel := l.finishing(ctx)
	defer cancel()
	n, err := 0, error(nil)
	for _, message := range midi.Split(t.step.Send) {
		var sent int
		sent, err = l.pace.send(ctx, finish, l.put, message, t.step.Gap)
		n += sent
		if err != nil {
			break
		}
	}
	t.bytes += n
	if n > 0 {
		t.tries++
		t.unheard++
	}
	if err == nil {
		t.messages += countMessages(t.step.Send)
	}
	return err
}

func countMessages(b []byte) int {
	n := 0
	var f midi.Framer
	f.Feed(b, func(midi.Frame) { n++ })
	return n
}
