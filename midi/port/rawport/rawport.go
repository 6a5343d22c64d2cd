// Package rawport turns the path of a raw MIDI device (/dev/snd/midiC1D0) or of a
// terminal line (a pty, a serial line) into a port, without cgo. A terminal is
// put into raw mode, and as it was when the port is closed.
//
// A device is taken for this program alone. Raw MIDI devices are guarded by the
// kernel; beside that both kinds are locked with flock, which the kernel takes
// away even from a process that was killed. (Exclusive mode, TIOCEXCL, would
// outlive it on a pty.)
package rawport

import (
	"context"

	"echowright/midi/port"
)

// Scheme is what stands before the path in a port's name.
const Scheme = "raw"

// Open opens the device at path. Nothing here waits: the
// context is looked at once, before.
func Open(ctx context.Context, path string) (port.Port, error) {
	name := Scheme + ":" + path
	if err := ctx.Err(); err != nil {
		return nil, &port.Error{Port: name, Doing: "opening", Err: err}
	}
	return open(name, path)
}
