package exchange

import (
	"context"
	"sync"

	"echowright/midi/port"
)

// A Thru is a port on which a clock may be passed on while others send on it:
// MIDI lets real-time messages stand anywhere, in the middle of others too. It may
// pass and send at the same time from two goroutines.
type Thru struct {
	port.Port
	sending sync.Mutex
}

// NewThru lets a clock through to a port.
func NewThru(p port.Port) *Thru { return &Thru{Port: p} }

// Send is that of the port.
func (t *Thru) Send(ctx context.Context, b []byte) error {
	t.sending.Lock()
	defer t.sending.Unlock()
	return t.Port.Send(ctx, b)
}

// Pass sends a message of one byte, F8 to FF, as soon as the piece that is being
// sent is out of the program's hands.
func (t *Thru) Pass(ctx context.Context, message []byte) error { return t.Send(ctx, message) }
