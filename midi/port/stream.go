package port

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"sync"
	"time"
)

// A Line is what the kernel gives for a device or a connection: *os.File in
// non-blocking mode and net.Conn are such.
type Line interface {
	io.ReadWriteCloser
	SetReadDeadline(time.Time) error
	SetWriteDeadline(time.Time) error
}

// streamBuffer is the most that one Receive gives.
const streamBuffer = 4096

// Stream makes a port of a line. Explain turns the kernel's errors into those of
// this package; where it does not know one, it gives it back as it is. An end of
// file, and lines closed by this side, are understood already.
func Stream(name string, line Line, explain func(error) error) Port {
	s := &stream{name: name, line: line, explain: explain, reads: watch{set: line.SetReadDeadline}, writes: watch{set: line.SetWriteDeadline}}
	s.ready = newReady(line, s.got[:])
	return s
}

type stream struct {
	name    string
	line    Line
	explain func(error) error
	got     [streamBuffer]byte
	ready   *ready
	reads   watch
	writes  watch
	close   sync.Once
	closed  error
}

func (s *stream) Send(ctx context.Context, b []byte) error {
	s.writes.over(ctx)
	sent, err := 0, ctx.Err()
	if err == nil {
		sent, err = s.line.Write(b)
	}
	if err == nil || sent == len(b) && sent > 0 {
		return nil
	}
	return &Error{Port: s.name, Doing: "sending", Sent: sent, Of: len(b), Err: s.say(ctx, err)}
}

func (s *stream) Receive(ctx context.Context) ([]byte, error) {
	s.reads.over(ctx)
	n, err := 0, ctx.Err()
	if err == nil {
		if n = s.ready.read(); n == 0 {
			n, err = s.line.Read(s.got[:])
		}
	}
	if n > 0 {
		return s.got[:n], nil
	}
	if err == nil {
		err = io.ErrNoProgress
	}
	return nil, &Error{Port: s.name, Doing: "receiving", Err: s.say(ctx, err)}
}

func (s *stream) Close() error {
	s.close.Do(func() {
		defer s.reads.end()
		defer s.writes.end()
		if err := s.line.Close(); err != nil && !errors.Is(err, fs.ErrClosed) {
			s.closed = &Error{Port: s.name, Doing: "closing", Err: s.explain(err)}
		}
	})
	return s.closed
}

func (s *stream) say(ctx context.Context, err error) error {
	switch {
	case errors.Is(err, os.ErrDeadlineExceeded) && ctx.Err() != nil:
		return ctx.Err()
	case errors.Is(err, io.EOF):
		return ErrGone
	case errors.Is(err, fs.ErrClosed):
		return ErrClosed
	}
	return s.explain(err)
}
