//go:build !linux

package ptyport

import (
	"fmt"
	"runtime"

	"echowright/midi/port"
)

// Open is not to be had on this system.
func Open() (*Terminal, error) {
	return nil, &port.Error{Port: "pty", Doing: "opening",
		Err:  fmt.Errorf("pseudo terminals on %s: %w", runtime.GOOS, port.ErrUnsupported),
		Next: "use a socket, unix:PATH or tcp:HOST:PORT"}
}

// Stay is not to be had on this system.
func (t *Terminal) Stay() error { return port.ErrUnsupported }
