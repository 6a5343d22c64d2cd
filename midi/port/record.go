package port

import (
	"bytes"
	"context"
	"fmt"
	"sync"

	"echowright/midi"
)

// An Exchange is a run of bytes that went one way before any went the other.
type Exchange struct {
	Sent  bool // by this side; else received
	Bytes []byte
}

// Recorder is a port that keeps what passes. It is safe for one sender and one
// receiver at the same time, as any port is.
type Recorder struct {
	Port
	mu   sync.Mutex
	said []Exchange
}

// Record lets everything through to p and keeps it.
func Record(p Port) *Recorder { return &Recorder{Port: p} }

// Send passes b on and keeps as much of it as went.
func (r *Recorder) Send(ctx context.Context, b []byte) error {
	err := r.Port.Send(ctx, b)
	went := len(b)
	if err != nil {
		went = Sent(err)
	}
	r.keep(true, b[:went])
	return err
}

// Receive passes on what comes and keeps it.
func (r *Recorder) Receive(ctx context.Context) ([]byte, error) {
	b, err := r.Port.Receive(ctx)
	r.keep(false, b)
	return b, err
}

func (r *Recorder) keep(sent bool, b []byte) {
	if len(b) == 0 {
		return
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if n := len(r.said); n > 0 && r.said[n-1].Sent == sent {
		r.said[n-1].Bytes = append(r.said[n-1].Bytes, b...)
		return
	}
	r.said = append(r.said, Exchange{Sent: sent, Bytes: bytes.Clone(b)})
}

// Conversation is what passed so far, in order: what [Play] takes.
func (r *Recorder) Conversation() []Exchange {
	r.mu.Lock()
	defer r.mu.Unlock()
	out := make([]Exchange, len(r.said))
	for i, e := range r.said {
		out[i] = Exchange{Sent: e.Sent, Bytes: bytes.Clone(e.Bytes)}
	}
	return out
}

// Play is a device that says again what it said in a conversation. It wants to
// hear the same bytes, however they are cut, and answers once it has heard all
// that was said before; any other byte is an error that names the place. After
// the last exchange the other side is gone.
func Play(name string, conversation []Exchange) Port {
	p := &player{name: name, left: conversation}
	p.changed = sync.NewCond(&p.mu)
	return p
}

type player struct {
	name string

	mu      sync.Mutex
	changed *sync.Cond
	left    []Exchange
	at      int // bytes of left[0] that passed
	heard   int // bytes heard in all
	closed  bool
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
	return nil
}

func (p *player) hear(ctx context.Context, c byte) error {
	switch {
	case p.closed:
		return ErrClosed
	case ctx.Err() != nil:
		return ctx.Err()
	case len(p.left) == 0:
		return ErrGone
	case !p.left[0].Sent:
		return fmt.Errorf("byte %d sent is %s: in the recorded conversation the device speaks now", p.heard, midi.Hex([]byte{c}))
	case p.left[0].Bytes[p.at] != c:
		return fmt.Errorf("byte %d sent is %s: it was %s in the recorded conversation", p.heard, midi.Hex([]byte{c}), midi.Hex(p.left[0].Bytes[p.at:p.at+1]))
	}
	p.heard++
	p.pass(1)
	return nil
}

func (p *player) pass(n int) {
	p.at += n
	if p.at == len(p.left[0].Bytes) {
		p.left, p.at = p.left[1:], 0
	}
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
		var err error
		switch {
		case p.closed:
			err = ErrClosed
		case ctx.Err() != nil:
			err = ctx.Err()
		case len(p.left) == 0:
			err = ErrGone
		case !p.left[0].Sent:
			b := p.left[0].Bytes[p.at:]
			p.pass(len(b))
			return bytes.Clone(b), nil
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
