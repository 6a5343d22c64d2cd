package osport

import (
	"context"
	"fmt"
	"sync"
	"time"

	"echowright/midi/port"
)

const (
	// glance is how often Receive looks whether something has come. The library
	// would rather call back, but crashes if it does so while it is being closed.
	glance = time.Millisecond
	// roll is how often it is looked whether the port is still there: the system
	// tells neither the reader nor the writer of a port that is gone.
	roll = 250 * time.Millisecond
	// most is the most that one Receive gives, but for a single longer message.
	most = 4096
)

// A wire is a connection to a port of the system. Its methods are called one at
// a time.
type wire interface {
	piece() int                // see cutter
	hears() bool               // whether something can come
	speaks() bool              // whether something can be sent
	take() ([]byte, error)     // what came next, nil if nothing did
	give(message []byte) error // a message, or a piece of SysEx
	there() bool               // whether the system still has the port
	end() error
}

func newPort(name string, w wire) *systemPort {
	return &systemPort{name: name, wire: w, cut: cutter{piece: w.piece()}, looked: time.Now(), done: make(chan struct{})}
}

type systemPort struct {
	name string
	cut  cutter
	got  []byte
	done chan struct{}

	mu     sync.Mutex // for all below
	wire   wire
	looked time.Time // when the port was last there
	gone   bool
	closed bool
	ended  error // what closing it gave
}

func (p *systemPort) Send(ctx context.Context, b []byte) error {
	sent, err := 0, p.usable(ctx)
	if err == nil && !p.wire.speaks() {
		err = fmt.Errorf("the system only lets it be heard: sending is %w", port.ErrUnsupported)
	}
	if err == nil {
		sent, err = p.cut.feed(b, func(message []byte) error { return p.give(ctx, message) })
	}
	if err != nil {
		return &port.Error{Port: p.name, Doing: "sending", Sent: sent, Of: len(b), Err: err}
	}
	return nil
}

// give hands over one message.
func (p *systemPort) give(ctx context.Context, message []byte) error {
	if err := p.usable(ctx); err != nil {
		return err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.closed {
		return port.ErrClosed
	}
	return p.wire.give(message)
}

// usable says why nothing can be done any more. A port that was gone once stays
// gone: what comes back under its name is not connected to us.
func (p *systemPort) usable(ctx context.Context) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.closed {
		return port.ErrClosed
	}
	if now := time.Now(); !p.gone && now.Sub(p.looked) >= roll {
		p.looked, p.gone = now, !p.wire.there()
	}
	if p.gone {
		return port.ErrGone
	}
	return ctx.Err()
}

func (p *systemPort) Receive(ctx context.Context) ([]byte, error) {
	if !p.wire.hears() {
		return nil, p.receiving(fmt.Errorf("the system only lets it be spoken to: hearing is %w", port.ErrUnsupported))
	}
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		if ctx.Err() == nil { // or what came would be lost
			if b, err := p.all(); len(b) > 0 || err != nil {
				return b, p.receiving(err)
			}
		}
		if err := p.usable(ctx); err != nil {
			return nil, p.receiving(err)
		}
		timer.Reset(glance)
		select {
		case <-timer.C:
		case <-ctx.Done():
		case <-p.done:
		}
	}
}

func (p *systemPort) receiving(err error) error {
	if err == nil {
		return nil
	}
	return &port.Error{Port: p.name, Doing: "receiving", Err: err}
}

// all gives what has come, nothing if nothing has.
func (p *systemPort) all() ([]byte, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.got = p.got[:0]
	for !p.closed && len(p.got) < most {
		b, err := p.wire.take()
		if err != nil && len(p.got) == 0 {
			return nil, err
		}
		if len(b) == 0 {
			break
		}
		p.got = append(p.got, b...)
	}
	return p.got, nil
}

func (p *systemPort) Close() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.closed {
		return p.ended
	}
	p.closed = true
	close(p.done)
	if err := p.wire.end(); err != nil {
		p.ended = &port.Error{Port: p.name, Doing: "closing", Err: err}
	}
	return p.ended
}
