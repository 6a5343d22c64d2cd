package traceport

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"echowright/midi/port"
)

// Open reads the trace at path and plays the device's side of it: [port.Play],
// with errors that name the line. A trace that was torn is played as far as it
// goes.
func Open(ctx context.Context, path string) (port.Port, error) {
	name := Scheme + ":" + path
	t, err := read(ctx, path)
	var torn *TornError
	switch {
	case errors.As(err, &torn):
	case errors.Is(err, fs.ErrNotExist):
		return nil, &port.Error{Port: name, Doing: "opening", Err: fmt.Errorf("%w: %w", port.ErrNotThere, err), Next: "name a file that was written with --trace"}
	case err != nil:
		return nil, &port.Error{Port: name, Doing: "opening", Err: err}
	}
	return &played{Port: port.Play(name, t.exchanges()), trace: t, torn: torn}, nil
}

func read(ctx context.Context, path string) (trace, error) {
	if err := ctx.Err(); err != nil {
		return trace{}, err
	}
	f, err := os.Open(path)
	if err != nil {
		return trace{}, err
	}
	defer f.Close()
	return parse(f)
}

type played struct {
	port.Port
	trace trace
	torn  *TornError
}

// Send says in which line of the trace the bytes are others.
func (p *played) Send(ctx context.Context, b []byte) error {
	err := p.Port.Send(ctx, b)
	var failed *port.Error
	var deviation *port.DeviationError
	if !errors.As(err, &failed) || !errors.As(err, &deviation) {
		return err
	}
	out := *failed
	out.Next = "the trace is of another version of the program, or of a command with other words or another library"
	if !deviation.Over {
		out.Err = fmt.Errorf("line %d of the trace: %w", p.trace.lineOf(deviation.At), deviation)
		return &out
	}
	out.Err = fmt.Errorf("the trace ends with line %d: %w", p.trace.lines, deviation)
	if p.torn != nil {
		out.Next = p.torn.Error()
	}
	return &out
}

// lineOf is the line in which the sent byte of that place stands.
func (t trace) lineOf(place int) int {
	for _, p := range t.passages {
		if !p.sent {
			continue
		}
		if place < len(p.bytes) {
			return p.line
		}
		place -= len(p.bytes)
	}
	return t.lines
}
