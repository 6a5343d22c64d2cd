package emulator

import (
	"context"
	"fmt"
	"sync"
	"time"

	"echowright/midi/port"
)

// Serve is the unit at the other end of a cable: it hands the bytes that come
// through the port to the unit and sends its answers when they have passed the
// wire, in real time, until ctx ends (nil) or the port fails. The error then
// wraps the port's: [port.ErrGone] where the other side went away.
func Serve(ctx context.Context, p port.Port, u *Unit) error {
	serving, stop := context.WithCancel(ctx)
	fed, deaf := make(chan struct{}, 1), make(chan error, 1)
	// Bytes are taken in while an answer is on its way out, as on two wires.
	var feeding sync.WaitGroup
	feeding.Go(func() { deaf <- feed(serving, p, u, fed) })
	err := speak(serving, p, u, fed, deaf)
	stop()
	feeding.Wait()
	if ctx.Err() != nil {
		return nil
	}
	return fmt.Errorf("emulator %s: %w", u.name, err)
}

// feed hands on what arrives and rings fed.
func feed(ctx context.Context, p port.Port, u *Unit, fed chan<- struct{}) error {
	for {
		bytes, err := p.Receive(ctx)
		if err != nil {
			return err
		}
		u.Arrive(time.Now(), bytes)
		select {
		case fed <- struct{}{}:
		default: // it has been rung already
		}
	}
}

// speak sends what leaves the unit, and sleeps in between.
func speak(ctx context.Context, p port.Port, u *Unit, fed <-chan struct{}, deaf <-chan error) error {
	alarm := time.NewTimer(0)
	defer alarm.Stop()
	for {
		for _, piece := range u.Run(time.Now()) {
			if err := p.Send(ctx, piece); err != nil {
				return err
			}
		}
		alarm.Stop()
		if next, ok := u.Next(); ok {
			alarm.Reset(time.Until(next))
		}
		select {
		case <-alarm.C:
		case <-fed:
		case err := <-deaf:
			return err
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}
