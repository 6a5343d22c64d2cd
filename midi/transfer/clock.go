package transfer

import (
	"context"
	"sync"
	"time"
)

// A Clock is what all waiting goes by, in several goroutines at once. Sleep returns the context's error if that
// ends first, and at once for d of 0 or less.
type Clock struct {
	Now   func() time.Time
	Sleep func(ctx context.Context, d time.Duration) error
}

// System is the clock of the operating system.
func System() Clock { return Clock{Now: time.Now, Sleep: sleep} }

func sleep(ctx context.Context, d time.Duration) error {
	if d <= 0 || ctx.Err() != nil {
		return ctx.Err()
	}
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// sleepUntil sleeps until the clock shows t.
func (c Clock) sleepUntil(ctx context.Context, t time.Time) error {
	return c.Sleep(ctx, t.Sub(c.Now()))
}

// alarm closes the channel when the clock shows t, or when it is stopped.
func (c Clock) alarm(t time.Time) (rings <-chan struct{}, stop func()) {
	ctx, stop := context.WithCancel(context.Background())
	ring := make(chan struct{})
	go func() {
		defer close(ring)
		_ = c.sleepUntil(ctx, t)
	}()
	return ring, stop
}

// A Direction is which way bytes of a trace went.
type Direction int

// The directions. A Remark has no bytes.
const (
	Remark Direction = iota
	Out
	In
)

// A TraceEvent is one line of a conversation: a piece sent, a message that came,
// or a remark such as the reason why something is sent again. Bytes are valid
// until the function returns that it is given to; that function is called by one
// goroutine at a time.
type TraceEvent struct {
	At    time.Time
	Dir   Direction
	Bytes []byte
	Note  string
}

type tracer struct {
	clock Clock
	tell  func(TraceEvent)
	mu    sync.Mutex
}

func (t *tracer) event(dir Direction, bytes []byte, note string) {
	if t.tell == nil {
		return
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	t.tell(TraceEvent{At: t.clock.Now(), Dir: dir, Bytes: bytes, Note: note})
}
