package library

import (
	"context"
	"fmt"
	"path/filepath"
	"time"

	"github.com/gofrs/flock"

	"echowright/library/wholefile"
)

const (
	lockWait  = 10 * time.Second // a change takes a fraction of one
	lockRetry = 20 * time.Millisecond
)

// A LockedError says that somebody else was changing the library all the while.
type LockedError struct {
	Path string // of the lock file
}

func (e *LockedError) Error() string {
	return fmt.Sprintf("another echowright is changing the library (it holds %s): wait until it is done and try again", e.Path)
}

// change does something to the library while nobody else does. It waits for the
// lock until ctx is done, but not longer than lockWait. The system lets go of a
// lock whose process has died.
func (l *Library) change(ctx context.Context, do func() error) error {
	if err := wholefile.MakeFolder(l.home); err != nil {
		return err
	}
	path := filepath.Join(l.home, "lock")
	lock := flock.New(path, flock.SetPermissions(0o666))
	waiting, stop := context.WithTimeout(ctx, lockWait)
	defer stop()
	switch _, err := lock.TryLockContext(waiting, lockRetry); {
	case err == nil:
	case ctx.Err() != nil:
		return fmt.Errorf("waiting for the library (%s): %w", path, ctx.Err())
	case waiting.Err() != nil:
		return &LockedError{Path: path}
	default:
		return fmt.Errorf("locking the library: %w; it can be read but not changed", wholefile.Explain(path, err))
	}
	defer lock.Unlock()
	return do()
}
