package port

import (
	"context"
	"sync"
	"time"
)

// A watch lets the end of a context break calls under way, by way of the line's
// deadline. It stays from one call to the next as long as these come with the same
// context, so that a port on which a clock comes allocates nothing for each byte.
type watch struct {
	set func(time.Time) error // the deadline, for reading or for writing

	mu     sync.Mutex
	done   <-chan struct{} // of the context that is watched; nil where none is
	stop   func() bool
	broken chan struct{} // closed when the deadline was set
	closed bool
}

// over watches over the calls that come with ctx.
func (w *watch) over(ctx context.Context) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if done := ctx.Done(); done != w.done {
		w.leave()
		if done != nil && !w.closed {
			w.begin(ctx)
		}
	}
}

func (w *watch) begin(ctx context.Context) {
	broken := make(chan struct{})
	w.done, w.broken = ctx.Done(), broken
	w.stop = context.AfterFunc(ctx, func() {
		defer close(broken)
		_ = w.set(time.Unix(1, 0)) // fails only on a closed line, where calls return anyhow
	})
}

// leave takes the deadline away again, if the context has set it.
func (w *watch) leave() {
	if w.done == nil {
		return
	}
	if !w.stop() {
		<-w.broken
		_ = w.set(time.Time{})
	}
	w.done, w.stop, w.broken = nil, nil, nil
}

// end leaves the context alone for good: it may live much longer than the line.
func (w *watch) end() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.closed = true
	w.leave()
}
