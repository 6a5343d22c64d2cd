package traceport

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"echowright/midi/port"
)

// Parse reads the conversation of a trace: what passed, each run of bytes that
// went one way as one exchange; one received without bytes says that the other
// side went away. An error is a *[SyntaxError], a *[TornError] beside all that
// was there before, or the reader's.
func Parse(r io.Reader) ([]port.Exchange, error) {
	t, err := parse(r)
	return t.exchanges(), err
}

// A SyntaxError is a place at which a trace is not as it must be.
type SyntaxError struct {
	Line, Column int // from 1
	Problem      string
}

func (e *SyntaxError) Error() string {
	return fmt.Sprintf("trace: line %d, column %d: %s", e.Line, e.Column, e.Problem)
}

// A TornError says that the last line of a trace has no end: the program that
// wrote it was stopped. The bytes of it that are there whole have passed.
type TornError struct{ Line int }

func (e *TornError) Error() string {
	return fmt.Sprintf("trace: line %d has no end: the program that wrote it was stopped there; what stands before is whole", e.Line)
}

// A passage is the bytes of one line.
type passage struct {
	line  int
	sent  bool
	bytes []byte // none: the other side went away
}

type trace struct {
	passages []passage
	lines    int
}

// exchanges puts passages together that went the same way one after the other.
func (t trace) exchanges() []port.Exchange {
	var out []port.Exchange
	for _, p := range t.passages {
		if n := len(out); n > 0 && out[n-1].Sent == p.sent && len(out[n-1].Bytes) > 0 && len(p.bytes) > 0 {
			out[n-1].Bytes = append(out[n-1].Bytes, p.bytes...)
			continue
		}
		out = append(out, port.Exchange{Sent: p.sent, Bytes: p.bytes})
	}
	return out
}

func parse(r io.Reader) (trace, error) {
	var t trace
	var last time.Duration
	in := bufio.NewReader(r)
	for {
		text, err := in.ReadString('\n')
		torn := errors.Is(err, io.EOF)
		if err != nil && !torn {
			return t, fmt.Errorf("trace: line %d: %w", t.lines+1, err)
		}
		if torn && text == "" && t.lines > 0 {
			return t, nil
		}
		t.lines++
		s := scanner{line: t.lines, text: strings.TrimSuffix(strings.TrimSuffix(text, "\n"), "\r"), torn: torn}
		if t.lines == 1 {
			s.torn = false // it is written as one
			err = s.head()
		} else {
			err = t.add(&s, &last)
		}
		switch {
		case errors.Is(err, errTorn), err == nil && torn:
			return t, &TornError{Line: t.lines}
		case err != nil:
			return t, err
		}
	}
}

// add reads one line behind the head. Of a torn one it keeps the bytes that are
// there.
func (t *trace) add(s *scanner, last *time.Duration) error {
	if s.over() {
		return nil
	}
	at, err := s.time()
	if err != nil {
		return err
	}
	if at < *last {
		return s.fault(0, "the time lies before that of an earlier line: lines stand in the order in which things passed")
	}
	*last = at
	p := passage{line: s.line}
	switch word := s.word(); {
	case word == hungUp:
		if !s.over() {
			return s.fault(s.at, fmt.Sprintf("nothing but a remark behind # stands behind %s", hungUp))
		}
		t.passages = append(t.passages, p)
		return nil
	case word == toDevice, word == toUs:
		p.sent = word == toDevice
	default:
		return s.fault(s.begin, fmt.Sprintf("%q: wanted %s for bytes to the device, %s for bytes from it, or %s", word, toDevice, toUs, hungUp))
	}
	p.bytes, err = s.bytes()
	if len(p.bytes) > 0 {
		t.passages = append(t.passages, p)
	}
	return err
}
