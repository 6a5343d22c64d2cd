// Package osport turns a name of one of the system's MIDI ports (ALSA's
// sequencer, CoreMIDI, Windows multimedia) into a port.
//
// Such ports are shared: other programs may use them at the same time. They
// carry messages, not bytes: what is sent is held back until a message, or a
// piece of SysEx that the system takes, is whole, and bytes that belong to no
// message never arrive. The system drops what comes too fast without a word, so
// that only an answer proves that anything arrived.
//
// The library behind it is C++ and needs cgo. On Linux it is built in with
// CGO_ENABLED=1 -tags osmidi, elsewhere with cgo alone; in other builds Open and
// List say how to come by it.
package osport

import (
	"context"

	"echowright/midi/port"
)

// Scheme is what stands before the name in a port's name.
const Scheme = "os"

// A Found is a port that the system has now.
type Found struct {
	Name    string // what Open takes
	In, Out bool   // whether something can be heard from it, and sent to it
}

// List gives the system's ports. The error is a *[port.Error]; it wraps
// [port.ErrUnsupported] if this build has no such ports.
func List() ([]Found, error) {
	ins, outs, err := look()
	if err != nil {
		return nil, named("", "listing", err)
	}
	return found(ins, outs), nil
}

// Open opens the port that the name fits, which must be the only one: by its
// whole name, else by the name without the numbers that the system puts behind
// it, else by a part of it, large and small letters alike. The context is looked
// at once, before: the system does not let itself be interrupted.
func Open(ctx context.Context, name string) (port.Port, error) {
	if err := ctx.Err(); err != nil {
		return nil, named(name, "opening", err)
	}
	ins, outs, err := look()
	if err != nil {
		return nil, named(name, "opening", err)
	}
	in, out, err := choose(name, ins, outs)
	if err != nil {
		return nil, named(name, "opening", err)
	}
	w, err := connect(in, out)
	if err != nil {
		return nil, named(name, "opening", err)
	}
	return newPort(Scheme+":"+name, w), nil
}

// A problem is an error and what to do about it.
type problem struct {
	error
	next string
}

func (p *problem) Unwrap() error { return p.error }

// named says which port it is about, and what to do next if err knows.
func named(name, doing string, err error) error {
	out := &port.Error{Port: Scheme + ":" + name, Doing: doing, Err: err}
	if p, ok := err.(*problem); ok {
		out.Err, out.Next = p.error, p.next
	}
	return out
}
