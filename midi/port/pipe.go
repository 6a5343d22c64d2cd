package port

import (
	"context"
	"sync"
)

// pipeBuffer is how many bytes each direction of a Pipe holds before Send waits:
// what a kernel keeps for a raw MIDI device.
const pipeBuffer = 4096

// Pipe returns the two ends of a cable inside this process. What one end sends
// the other receives, in order, in pieces cut anyhow. The name stands in errors.
func Pipe(name string) (Port, Port) {
	there, back := newHose(), newHose()
	return &pipeEnd{name: name, in: back, out: there}, &pipeEnd{name: name, in: there, out: back}
}

type pipeEnd struct {
	name    string
	in, out *hose
	got     [pipeBuffer]byte
}

func (p *pipeEnd) Send(ctx context.Context, b []byte) error {
	sent, err := p.out.put(ctx, b)
	if err != nil {
		return &Error{Port: p.name, Doing: "sending", Sent: sent, Of: len(b), Err: err}
	}
	return nil
}

func (p *pipeEnd) Receive(ctx context.Context) ([]byte, error) {
	n, err := p.in.take(ctx, p.got[:])
	if err != nil {
		return nil, &Error{Port: p.name, Doing: "receiving", Err: err}
	}
	return p.got[:n], nil
}

func (p *pipeEnd) Close() error {
	p.in.end(&p.in.takerGone)
	p.out.end(&p.out.putterGone)
	return nil
}

// A hose is one direction of a pipe.
type hose struct {
	mu         sync.Mutex
	changed    *sync.Cond
	held       []byte
	putterGone bool
	takerGone  bool
}

func newHose() *hose {
	h := &hose{}
	h.changed = sync.NewCond(&h.mu)
	return h
}

func (h *hose) end(gone *bool) {
	h.mu.Lock()
	*gone = true
	h.mu.Unlock()
	h.changed.Broadcast()
}

// wakeAtEnd lets whoever waits look again once ctx ends. The lock makes sure
// that nobody is between looking and waiting.
func (h *hose) wakeAtEnd(ctx context.Context) (stop func() bool) {
	return context.AfterFunc(ctx, func() {
		h.mu.Lock()
		defer h.mu.Unlock()
		h.changed.Broadcast()
	})
}

func (h *hose) put(ctx context.Context, b []byte) (sent int, err error) {
	defer h.wakeAtEnd(ctx)()
	h.mu.Lock()
	defer h.mu.Unlock()
	for {
		switch {
		case h.putterGone:
			return sent, ErrClosed
		case h.takerGone:
			return sent, ErrGone
		case ctx.Err() != nil:
			return sent, ctx.Err()
		case sent == len(b):
			return sent, nil
		}
		if n := min(len(b)-sent, pipeBuffer-len(h.held)); n > 0 {
			h.held = append(h.held, b[sent:sent+n]...)
			sent += n
			h.changed.Broadcast()
			continue
		}
		h.changed.Wait()
	}
}

func (h *hose) take(ctx context.Context, into []byte) (int, error) {
	defer h.wakeAtEnd(ctx)()
	h.mu.Lock()
	defer h.mu.Unlock()
	for {
		switch {
		case h.takerGone:
			return 0, ErrClosed
		case ctx.Err() != nil:
			return 0, ctx.Err()
		case len(h.held) > 0:
			n := copy(into, h.held)
			h.held = append(h.held[:0], h.held[n:]...)
			h.changed.Broadcast()
			return n, nil
		case h.putterGone:
			return 0, ErrGone
		}
		h.changed.Wait()
	}
}
