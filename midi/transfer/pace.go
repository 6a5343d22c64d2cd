package transfer

import (
	"context"
	"time"
)

// A pacer sends no faster than the receiver reads.
type pacer struct {
	clock    Clock
	byteTime time.Duration
	piece    int

	free  time.Time // when all that was sent has passed the wire
	quiet time.Time // and the silence after it is over: the next message may begin
}

// A putter hands bytes to a port and says how many went.
type putter func(ctx context.Context, b []byte) (sent int, err error)

// wireTime is how long so many bytes are on the wire.
func (p *pacer) wireTime(bytes int) time.Duration { return time.Duration(bytes) * p.byteTime }

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
		var n int
		n, err = put(finish, piece)
		sent += n
		// Also where it failed: nobody knows how much of the rest went.
		p.free = p.clock.Now().Add(p.wireTime(len(piece)))
	}
	p.quiet = p.free.Add(gap)
	return sent, err
}
