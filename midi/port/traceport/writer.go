package traceport

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"
	"time"

	"echowright/midi"
	"echowright/midi/port"
)

// A Writer writes what passes over a port. It may be used by the goroutine that
// sends, the one that receives and one that remarks, at the same time.
type Writer struct {
	out    io.Writer
	start  time.Time // that times count from, by the system's clock
	decode func(sent bool, message []byte) string

	mu      sync.Mutex
	err     error         // why nothing is written any more
	latest  time.Duration // of the last event
	waiting []*event      // what is not written yet, in order
	line    line
	ways    [2]cutter // what was received, what was sent
}

// An event is something that passed, or will have passed when Send returns: it
// has its place from the beginning, since an answer may come before that.
type event struct {
	at     time.Duration
	sent   bool
	known  bool // bytes are what passed
	bytes  []byte
	remark string // a line by itself
	word   string // in place of bytes: gone
}

// NewWriter begins a trace on out. The time began is for people; those of the lines
// count from this call, by the system's clock. Decode says in words what a whole
// message is, with running status expanded and real-time bytes taken out; nil is
// [midi.Describe]. It must not use the Writer.
func NewWriter(out io.Writer, began time.Time, decode func(sent bool, message []byte) string) *Writer {
	if decode == nil {
		decode = func(_ bool, message []byte) string { return midi.Describe(message) }
	}
	t := &Writer{out: out, start: time.Now(), decode: decode}
	t.renew()
	t.write(format + " " + beganWord + " " + began.UTC().Format(time.RFC3339Nano) + "\n" +
		"# Seconds since then, > to the device or < from it, the bytes as they passed; behind # for people.\n")
	return t
}

// Err is why the trace is not whole: the first error of the io.Writer, after
// which nothing more is written. The conversation goes on without.
func (t *Writer) Err() error {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.err
}

// Port passes everything through to p and writes it.
func (t *Writer) Port(p port.Port) port.Port { return &traced{Port: p, trace: t} }

// Remark writes a line for people, such as why something is sent again.
func (t *Writer) Remark(at time.Time, text string) {
	t.add(&event{at: at.Sub(t.start), known: true, remark: text})
}

type traced struct {
	port.Port
	trace *Writer
}

func (p *traced) Send(ctx context.Context, b []byte) error {
	e := &event{at: time.Since(p.trace.start), sent: true}
	p.trace.add(e)
	err := p.Port.Send(ctx, b)
	went := len(b)
	if err != nil {
		went = port.Sent(err)
	}
	p.trace.settle(e, b[:went])
	return err
}

func (p *traced) Receive(ctx context.Context) ([]byte, error) {
	b, err := p.Port.Receive(ctx)
	e := &event{at: time.Since(p.trace.start), known: true, bytes: bytes.Clone(b)}
	switch {
	case err == nil:
		p.trace.add(e)
	case errors.Is(err, port.ErrGone):
		e.word, e.remark = hungUp, err.Error()
		p.trace.add(e)
	}
	return b, err
}

// Close closes the port, and the line that is open.
func (p *traced) Close() error {
	err := p.Port.Close()
	p.trace.breakOff()
	return err
}

// add puts an event at the end of what is to be written.
func (t *Writer) add(e *event) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.latest = max(t.latest, e.at) // the time of a remark, or the system's, may lag behind
	e.at = t.latest
	t.waiting = append(t.waiting, e)
	t.flush()
}

// settle says which bytes of an event passed.
func (t *Writer) settle(e *event, b []byte) {
	t.mu.Lock()
	defer t.mu.Unlock()
	e.known, e.bytes = true, b
	t.flush()
	e.bytes = bytes.Clone(e.bytes) // where it still waits for others: b is the caller's
}

// flush writes what is known, up to the first event that is not.
func (t *Writer) flush() {
	for len(t.waiting) > 0 && t.waiting[0].known {
		e := t.waiting[0]
		t.waiting = t.waiting[1:]
		switch {
		case e.word != "":
			t.part()
			t.write(seconds(e.at) + " " + e.word + comment(oneLine(e.remark)))
		case e.remark != "":
			t.part()
			t.write("# " + seconds(e.at) + " " + oneLine(e.remark) + "\n")
		default:
			t.bytes(e)
		}
	}
}

// breakOff ends what is under way both ways: nothing more will come.
func (t *Writer) breakOff() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.end("broken off")
	t.renew()
}

// renew forgets what was under way.
func (t *Writer) renew() {
	t.ways = [2]cutter{{decode: t.decode}, {decode: t.decode, sent: true}}
}

func (t *Writer) write(text string) {
	if t.err != nil {
		return
	}
	if _, err := io.WriteString(t.out, text); err != nil {
		t.err = fmt.Errorf("writing the trace: %w", err)
	}
}

func seconds(d time.Duration) string {
	d = max(d, 0) / time.Microsecond
	return fmt.Sprintf("%d.%06d", d/1e6, d%1e6)
}

// oneLine keeps words that come from elsewhere on their line.
func oneLine(text string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7F {
			return ' '
		}
		return r
	}, text)
}
