// Package ptyport turns a new pseudo terminal into a port: this program holds
// its master side and another one, or another part of this one, opens the path of
// its terminal side as if a device were there.
package ptyport

import "echowright/midi/port"

// A Terminal is the port on the master side. Receive says [port.ErrGone] when the
// last user of the path has closed it, and works again when it is opened again;
// see Stay.
type Terminal struct {
	port.Port
	path string
	held func() error // gives back what Stay took
}

// Path is what the other side opens: "/dev/pts/5".
func (t *Terminal) Path() string { return t.path }

// Close ends the line: whoever has the path open meets an end of file.
func (t *Terminal) Close() error {
	if t.held != nil {
		_ = t.held()
	}
	return t.Port.Close()
}
