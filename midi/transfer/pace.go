package transfer

import (
	"context"
	"time"

	"echowright/midi/port"
)

// A pacer sends no faster than the receiver reads.
type pacer struct {
	clock    Clock
	byteTime time.Duration
	piece    int

	free  time.Time // when all that was sent has passed the wire
	quiet time.Time // and the silence after it is over: the next message may begin
}

// A putter hands bytes to a port.
type putter func(ctx context.Context, b []byte) error

// send waits for the silence to end, sends the message in pieces, and asks for
// a gap after it. From the first piece on, finish is the context that counts. It
// says how many bytes went.
func (p *pacer) send(ctx, finish context.Context, put putter, message []byte, gap time.Duration) (int, error) {
	sent := 0
	err := p.clock.sleepUntil(ctx, p.quiet)
	for err == nil && sent < len(message) {
		if err = p.clock.sleepUntil(finish, p.free); err != nil {
			break
		}
		piece := message[sent:min(sent+p.piece, len(message))]
		err = put(finish, piece)
		n := len(piece)
		if err != nil {
			n = port.Sent(err)
		}
		sent += n
		p.free = p.clock.Now().Add(time.Duration(n) * p.byteTime)
	}
	p.quiet = p.free.Add(gap)
	return sent, err
}
