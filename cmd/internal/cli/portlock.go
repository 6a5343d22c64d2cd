package cli

import (
	"context"
	"errors"
	"fmt"
	"time"

	"echowright/library"
)

// To see whether a port is locked is to take its lock for a moment. What is still
// locked after a few tries is a conversation.
const (
	lockTries = 5
	lockPause = 20 * time.Millisecond
)

// lockPort takes a port for this run alone, or says in a *[library.PortLockedError]
// that another has it.
func lockPort(ctx context.Context, shelf *library.Library, port string) (unlock func(), err error) {
	for try := 1; ; try++ {
		free, err := shelf.LockPort(port)
		var locked *library.PortLockedError
		switch {
		case err == nil:
			return func() { _ = free() }, nil // the system does it when the program ends
		case !errors.As(err, &locked) || try == lockTries:
			return nil, err
		}
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-time.After(lockPause):
		}
	}
}

// inUse reports whether another echowright has a conversation on a port. Where that
// cannot be known, as without a library, nobody has.
func (c *call) inUse(ctx context.Context, port string) bool {
	shelf, err := c.library()
	if err != nil {
		return false
	}
	unlock, err := lockPort(ctx, shelf, port)
	if err == nil {
		unlock()
	}
	var locked *library.PortLockedError
	return errors.As(err, &locked)
}

// lockIntent takes the port of an intent, unless that is in use, perhaps for this very
// intent. One that cannot be read may name no port; it is nobody's.
func lockIntent(ctx context.Context, shelf *library.Library, e library.IntentEntry) (unlock func(), err error) {
	if e.Intent.Port == "" {
		return func() {}, nil
	}
	unlock, err = lockPort(ctx, shelf, e.Intent.Port)
	var locked *library.PortLockedError
	if errors.As(err, &locked) {
		return nil, fmt.Errorf("%s: leave it alone until it is done", underWay(e, portInUse))
	}
	return unlock, err
}

// A standing says how an entry of the journal stands.
type standing int

const (
	brokenOff standing = iota // nobody is at it any more
	portInUse                 // another echowright is using its port: it is at it, or does something else there
	settled                   // it has been brought to its end since
)

// standingOf looks at the lock of an entry's port: whoever carries it out has that,
// but others have it too.
func standingOf(ctx context.Context, shelf *library.Library, e library.IntentEntry) standing {
	if e.Intent.Port == "" {
		return brokenOff
	}
	unlock, err := lockPort(ctx, shelf, e.Intent.Port)
	var locked *library.PortLockedError
	switch {
	case errors.As(err, &locked):
		return portInUse
	case err != nil: // as in a library that cannot be written to: nobody can be at it
		return brokenOff
	}
	defer unlock()
	var gone *library.NotFoundError
	if _, err := shelf.Intent(e.Name); errors.As(err, &gone) {
		return settled
	}
	return brokenOff
}
