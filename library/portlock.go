package library

import (
	"fmt"
	"path/filepath"
	"strings"

	"github.com/gofrs/flock"

	"echowright/library/wholefile"
)

// A PortLockedError says that another process has a conversation on the port.
type PortLockedError struct {
	Port string
}

func (e *PortLockedError) Error() string {
	return fmt.Sprintf("another echowright is using the port %q: wait until it is done and try again", e.Port)
}

// LockPort takes a port, named as --port takes it, for one process alone: two
// conversations on one cable would mix their bytes. A link and what it points to
// are one port. It does not wait: where the
// port is taken the error is a [PortLockedError]. Unlock gives it back; the system
// does so for a process that has died.
func (l *Library) LockPort(port string) (unlock func() error, err error) {
	folder := filepath.Join(l.home, "ports")
	if err := wholefile.MakeFolder(folder); err != nil {
		return nil, fmt.Errorf("locking port %q: %w", port, err)
	}
	// Sixteen digits of a hash: a port's name may be a path, and long.
	path := filepath.Join(folder, hash([]byte(placeOf(port)))[:16]+".lock")
	lock := flock.New(path, flock.SetPermissions(0o666))
	free, err := lock.TryLock()
	switch {
	case err != nil:
		return nil, fmt.Errorf("locking port %q: %w", port, wholefile.Explain(path, err))
	case !free:
		return nil, &PortLockedError{Port: port}
	}
	return lock.Unlock, nil
}

// placeOf is what all names of a port have in common: where there is a path behind
// the colon, the one at the end of all links. A name that leads nowhere stays as it
// is; nobody can be talking there.
func placeOf(port string) string {
	scheme, path, _ := strings.Cut(port, ":")
	if !filepath.IsAbs(path) {
		return port
	}
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		return port
	}
	return scheme + ":" + real
}
