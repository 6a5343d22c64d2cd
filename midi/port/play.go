package port

import (
	"context"
	"errors"
	"fmt"
	"sync"

	"echowright/midi"
)

// An Exchange is a run of bytes that went one way before any went the other. One
// received without bytes says that the other side went away. A conversation is
// kept as a list of them; a trace (package traceport) is one on paper.
type Exchange struct {
	Sent  bool // by this side; else received
	Bytes []byte
}

// Play is a device that says again what it said in a conversation. It wants to
// hear the same bytes, however they are cut, and speaks as soon as it has heard
// all that was sent before; whoever sends need not have listened, as on a real
// line. Another byte than the recorded one is a *[DeviationError]. After the last
// exchange the device is silent, unless it had gone away.
func Play(name string, conversation []Exchange) Port {
	p := &player{name: name}
	p.changed = sync.NewCond(&p.mu)
	for _, e := range conversation {
		if e.Sent {
			p.awaited = append(p.awaited, e.Bytes...)
		} else {
			p.answers = append(p.answers, recorded{after: len(p.awaited), bytes: e.Bytes})
		}
	}
	return p
}

// A DeviationError is a byte that was not sent in the recorded conversation.
type DeviationError struct {
	At   int  // its place among the bytes sent, from 0
	Got  byte // what was sent
	Want byte // what had been sent when the conversation was recorded
	Over bool // nothing more had been sent then; Want says nothing
}

func (e *DeviationError) Error() string {
	text := fmt.Sprintf("byte %d sent is %s", e.At, midi.Hex([]byte{e.Got}))
	if e.Over {
		return text + ": nothing more was sent in the recorded conversation"
	}
	return text + ": it was " + midi.Hex([]byte{e.Want}) + " in the recorded conversation"
}

type player struct {
	name    string
	awaited []byte // all that was sent

	mu      sync.Mutex
	changed *sync.Cond
	heard   int        // how many of awaited were sent again
	answers []recorded // what was not received again yet
	closed  bool
}

// recorded is what a device said after so many bytes; no bytes: it went away.
type recorded struct {
	after int
	bytes []byte
}

func (p *player) Send(ctx context.Context, b []byte) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	defer p.changed.Broadcast()
	for sent, c := range b {
		if err := p.hear(ctx, c); err != nil {
			return &Error{Port: p.name, Doing: "sending", Sent: sent, Of: len(b), Err: err}
		}
	}
	if err := p.refuses(ctx); err != nil && !errors.Is(err, ErrGone) {
		return &Error{Port: p.name, Doing: "sending", Sent: len(b), Of: len(b), Err: err}
	}
	return nil
}

func (p *player) hear(ctx context.Context, c byte) error {
	if err := p.refuses(ctx); err != nil {
		return err
	}
	switch {
	case p.heard == len(p.awaited):
		return &DeviationError{At: p.heard, Got: c, Over: true}
	case p.awaited[p.heard] != c:
		return &DeviationError{At: p.heard, Got: c, Want: p.awaited[p.heard]}
	}
	p.heard++
	return nil
}

// refuses says why nothing can be sent now.
func (p *player) refuses(ctx context.Context) error {
	switch {
	case p.closed:
		return ErrClosed
	case ctx.Err() != nil:
		return ctx.Err()
	}
	for _, a := range p.answers {
		if len(a.bytes) == 0 && a.after <= p.heard {
			return ErrGone
		}
	}
	return nil
}

func (p *player) Receive(ctx context.Context) ([]byte, error) {
	stop := context.AfterFunc(ctx, func() {
		p.mu.Lock()
		defer p.mu.Unlock()
		p.changed.Broadcast()
	})
	defer stop()
	p.mu.Lock()
	defer p.mu.Unlock()
	for {
		due := len(p.answers) > 0 && p.answers[0].after <= p.heard
		var err error
		switch {
		case p.closed:
			err = ErrClosed
		case ctx.Err() != nil:
			err = ctx.Err()
		case due && len(p.answers[0].bytes) == 0:
			err = ErrGone
		case due:
			b := p.answers[0].bytes
			p.answers = p.answers[1:]
			return b, nil
		}
		if err != nil {
			return nil, &Error{Port: p.name, Doing: "receiving", Err: err}
		}
		p.changed.Wait()
	}
}

func (p *player) Close() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.closed = true
	p.changed.Broadcast()
	return nil
}
