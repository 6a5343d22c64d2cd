// Package ports turns a port's name, such as raw:/dev/snd/midiC1D0, into the open
// port, and says which devices are there.
package ports

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"echowright/midi/port"
	"echowright/midi/port/fileport"
	"echowright/midi/port/netport"
	"echowright/midi/port/osport"
	"echowright/midi/port/rawport"
	"echowright/midi/port/traceport"
)

// An Opener opens the port that is named by what stands behind the scheme.
type Opener func(ctx context.Context, rest string) (port.Port, error)

// Openers has an Opener for each scheme, the word before the colon.
type Openers map[string]Opener

// Builtin returns the openers of the ports that need nothing but the operating
// system; that of its MIDI ports says so where this build has none. The caller
// may add to them.
func Builtin() Openers {
	return Openers{
		rawport.Scheme:     rawport.Open,
		osport.Scheme:      osport.Open,
		netport.UnixScheme: netport.OpenUnix,
		netport.TCPScheme:  netport.OpenTCP,
		fileport.Scheme:    openFile,
		traceport.Scheme:   traceport.Open,
	}
}

func openFile(ctx context.Context, path string) (port.Port, error) {
	f, err := fileport.Open(ctx, path)
	if err != nil {
		return nil, err // not a nil *File in an interface
	}
	return f, nil
}

// Open opens the port with that name. The error is an *[UnknownError] if the
// name has no known scheme.
func (o Openers) Open(ctx context.Context, name string) (port.Port, error) {
	scheme, rest, _ := strings.Cut(name, ":")
	open, known := o[scheme]
	if !known || rest == "" {
		return nil, &UnknownError{Name: name, Scheme: scheme, Known: slices.Sorted(maps.Keys(o))}
	}
	return open(ctx, rest)
}

// An UnknownError is a port's name that no opener understands.
type UnknownError struct {
	Name   string
	Scheme string   // what stands before the colon
	Known  []string // every scheme there is, sorted
}

func (e *UnknownError) Error() string {
	text := fmt.Sprintf("port %q: ", e.Name)
	switch {
	case slices.Contains(e.Known, e.Scheme):
		return text + fmt.Sprintf("%s what? Write %s:NAME; echowright ports lists what is there", e.Scheme, e.Scheme)
	case strings.HasPrefix(e.Name, "/dev/") && slices.Contains(e.Known, rawport.Scheme):
		return text + fmt.Sprintf("write %s:%s for a device", rawport.Scheme, e.Name)
	case strings.HasSuffix(e.Name, ".syx") && !strings.Contains(e.Name, ":") && slices.Contains(e.Known, fileport.Scheme):
		return text + fmt.Sprintf("write %s:%s for a file", fileport.Scheme, e.Name)
	}
	return text + fmt.Sprintf("a port's name begins with one of %s:", strings.Join(e.Known, ":, "))
}
