package ports

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"time"

	"echowright/midi"
	"echowright/midi/port"
)

// Patience is how long a device is given to say who it is, and so is every other
// one on the same line. No standard says how long that takes; devices answer
// within some 20 ms, busy ones later.
const Patience = 300 * time.Millisecond

// Identify asks everybody on a port who they are and gives the answers that came
// within the time, each once, in their order. Silence is no error: then there are
// none. Answers that came are given also beside an error; it joins why the port
// failed and what was wrong with answers that could not be read.
func Identify(ctx context.Context, p port.Port, patience time.Duration) ([]midi.Identity, error) {
	request, err := midi.IdentityRequest(midi.AllUnits)
	if err != nil {
		return nil, err
	}
	waiting, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	if err := p.Send(waiting, request); err != nil {
		return nil, err
	}
	var a answers
	for {
		b, err := p.Receive(waiting)
		a.framer.Feed(b, a.take)
		switch {
		case err == nil:
		case waiting.Err() != nil && ctx.Err() == nil:
			return a.all, a.broken
		default:
			return a.all, errors.Join(a.broken, err)
		}
	}
}

// answers are the identities in a stream that may carry anything else as well.
type answers struct {
	framer midi.Framer
	seen   [][]byte
	all    []midi.Identity
	broken error // the first that could not be read
}

func (a *answers) take(m midi.Frame) {
	for _, b := range a.seen {
		if bytes.Equal(b, m.Bytes) {
			return
		}
	}
	id, err := midi.ParseIdentity(m.Bytes)
	switch {
	case errors.Is(err, midi.ErrNoIdentity):
		return
	case err == nil:
		a.all = append(a.all, id)
	case a.broken == nil:
		a.broken = fmt.Errorf("what came is no whole answer: %w", err)
	}
	a.seen = append(a.seen, bytes.Clone(m.Bytes))
}
