package port

import (
	"errors"
	"fmt"
)

// What can be wrong with a port, for errors.Is.
var (
	ErrNotThere    = errors.New("there is no such port")
	ErrBusy        = errors.New("another program has the port")
	ErrDenied      = errors.New("no permission for the port")
	ErrGone        = errors.New("the other side went away")
	ErrClosed      = errors.New("the port is closed")
	ErrUnsupported = errors.New("not supported")
)

// An Error says which port failed, in doing what, and what to do about it.
type Error struct {
	Port  string // its name: "raw:/dev/snd/midiC1D0"
	Doing string // "opening", "sending", "receiving", "closing"
	Sent  int    // in sending: bytes that went before the failure
	Of    int    // in sending: bytes that were to go
	Err   error  // wraps a sentinel of this package or the context's error
	Next  string // what to do next, "" where nothing is to be said
}

func (e *Error) Error() string {
	text := fmt.Sprintf("port %s: %s: ", e.Port, e.Doing)
	if e.Of > 0 {
		text += fmt.Sprintf("%d of %d bytes went: ", e.Sent, e.Of)
	}
	text += e.Err.Error()
	if e.Next != "" {
		text += "; " + e.Next
	}
	return text
}

func (e *Error) Unwrap() error { return e.Err }

// Sent is how many bytes of the message went before Send failed with err: 0
// where the error does not say.
func Sent(err error) int {
	var e *Error
	if errors.As(err, &e) {
		return e.Sent
	}
	return 0
}
