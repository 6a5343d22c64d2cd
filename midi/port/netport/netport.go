// Package netport turns a socket, unix:PATH or tcp:HOST:PORT, into a port: a
// plain stream of MIDI bytes, as emulators, bridges and serial servers give it.
package netport

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"syscall"

	"echowright/midi/port"
)

// What stands before the address in a port's name.
const (
	UnixScheme = "unix"
	TCPScheme  = "tcp"
)

// OpenUnix connects to the socket at path.
func OpenUnix(ctx context.Context, path string) (port.Port, error) {
	return dial(ctx, UnixScheme, path)
}

// OpenTCP connects to HOST:PORT.
func OpenTCP(ctx context.Context, address string) (port.Port, error) {
	return dial(ctx, TCPScheme, address)
}

// New makes a port of a connection that is there already, such as one that was
// accepted. The name stands in errors.
func New(name string, c net.Conn) port.Port { return port.Stream(name, c, explain) }

func dial(ctx context.Context, network, address string) (port.Port, error) {
	name := network + ":" + address
	var d net.Dialer
	c, err := d.DialContext(ctx, network, address)
	if err == nil {
		return New(name, c), nil
	}
	if ctx.Err() != nil {
		err = ctx.Err()
	}
	out := &port.Error{Port: name, Doing: "opening", Err: err}
	var unknown *net.DNSError
	var malformed *net.AddrError
	switch {
	case errors.As(err, &malformed):
		out.Err = fmt.Errorf("%w: address %q: %s", port.ErrNotThere, malformed.Addr, malformed.Err)
		out.Next = "write tcp:HOST:PORT, such as tcp:localhost:7000"
	case errors.As(err, &unknown):
		out.Err = fmt.Errorf("%w: %w", port.ErrNotThere, err)
		out.Next = "look at the name of the host again"
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, syscall.ECONNREFUSED):
		out.Err = fmt.Errorf("%w: %w", port.ErrNotThere, err)
		out.Next = "is the other side running and listening there?"
	case errors.Is(err, fs.ErrPermission):
		out.Err = fmt.Errorf("%w: %w", port.ErrDenied, err)
	}
	return nil, out
}

func explain(err error) error {
	switch {
	case errors.Is(err, net.ErrClosed):
		return port.ErrClosed
	case errors.Is(err, syscall.ECONNRESET), errors.Is(err, syscall.EPIPE):
		return fmt.Errorf("%w (%w)", port.ErrGone, err)
	}
	return err
}
