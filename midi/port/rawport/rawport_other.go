//go:build !linux

package rawport

import (
	"fmt"
	"runtime"

	"echowright/midi/port"
)

func open(name, _ string) (port.Port, error) {
	return nil, &port.Error{Port: name, Doing: "opening",
		Err:  fmt.Errorf("raw devices on %s: %w", runtime.GOOS, port.ErrUnsupported),
		Next: "use the system's MIDI ports, os:NAME, or a socket, unix:PATH or tcp:HOST:PORT"}
}
