// Package port turns a way out of the computer (a raw MIDI device, a terminal
// line, a socket, a file, the other end of a pipe in the same process) into
// three methods: send bytes, receive bytes, close.
//
// A port carries bytes as they come and knows nothing of messages; package midi
// frames them. Kinds of port stand in packages below this one, and each passes
// the suite in porttest. [Pipe] and [Play] are ports for tests; traceport turns any
// port's conversation into what Play gives again.
package port

import "context"

// A Port carries bytes to a device and back. Send and Receive may be called at
// the same time from two goroutines, each of them from one at a time; Close may
// be called at any time, more than once.
//
// Errors are *[Error] and wrap one of the sentinels of this package, or the
// context's error where the context ended the call.
type Port interface {
	// Send passes on all of b, or says in the error how many bytes went.
	// It returns when the bytes are out of the program's hands, which is not
	// yet the moment at which the last has passed the wire.
	Send(ctx context.Context, b []byte) error

	// Receive waits for some bytes, at least one. They are valid until the
	// next call. Bytes that came before the other side went away are still
	// given; after them comes [ErrGone].
	Receive(ctx context.Context) ([]byte, error)

	// Close ends calls under way with [ErrClosed] and gives the device back.
	Close() error
}
