package exchange

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/library"
	"echowright/midi"
	"echowright/midi/port"
	"echowright/midi/transfer"
	"echowright/profiles"
	"echowright/profiles/emulator"
)

// connect switches a device on and has a session with it. It is called within a
// bubble; image nil stands for the factory's memory.
func connect(t *testing.T, g *ground, home string, image []byte, o emulator.Options, watch *tap) *connected {
	t.Helper()
	device, err := profiles.Shipped(g.device)
	require.NoError(t, err)
	unit, err := emulator.New(g.device, o)
	require.NoError(t, err)
	if image != nil {
		require.NoError(t, unit.SetImage(image))
	}
	shelf, err := library.Open(home, time.Now)
	require.NoError(t, err)
	near, far := port.Pipe("the bench")
	ctx, stop := context.WithCancel(t.Context())
	served := make(chan error, 1)
	go func() { served <- emulator.Serve(ctx, far, unit) }()
	watch.Port = near
	link := transfer.Open(watch, transfer.Options{Name: "the bench", Retries: device.Manners.Retries, Piece: device.Manners.Buffer})
	b := &connected{bench: bench{unit: unit}, link: link, stop: func() { stop(); <-served }}
	b.Session = &Session{
		Device: device, Unit: device.Manners.FirstUnit, Port: "emulator:" + g.device, Link: link, Shelf: shelf, Now: time.Now,
		Warn: func(text string) { b.warnings = append(b.warnings, text) },
	}
	return b
}

// connected is a bench that is taken apart by hand.
type connected struct {
	bench
	link *transfer.Link
	stop func()
}

// rest is longer than any write, restart, wait and late answer that is ordered.
const rest = time.Minute

// end pulls the cable, and lets the device come to rest: what it was told before
// may still be on its way into the memory.
func (b *connected) end(t *testing.T) {
	t.Helper()
	require.NoError(t, b.link.Close())
	b.stop()
	time.Sleep(rest)
	b.unit.Run(time.Now())
}

// A tap listens to a conversation, and ends it where that is ordered.
type tap struct {
	port.Port
	pullAfter int    // messages sent, with the end of which the cable is pulled; 0: never
	ctrlC     int    // messages sent, with the end of which somebody presses Ctrl-C; 0: never
	interrupt func() // what that does

	mu          sync.Mutex
	sent, heard midi.Framer
	count       counted
}

// counted is how much went to and fro: messages, and bytes that were sent.
type counted struct{ sent, heard, bytes int }

func (p *tap) Send(ctx context.Context, b []byte) error {
	if p.pulled() {
		return p.gone("sending")
	}
	if err := p.Port.Send(ctx, b); err != nil {
		return err
	}
	p.mu.Lock()
	before := p.count.sent
	p.count.bytes += len(b)
	p.sent.Feed(b, func(midi.Frame) { p.count.sent++ })
	after := p.count.sent
	p.mu.Unlock()
	if p.ctrlC > before && p.ctrlC <= after {
		p.interrupt()
	}
	if p.pulled() {
		return p.Port.Close()
	}
	return nil
}

func (p *tap) Receive(ctx context.Context) ([]byte, error) {
	b, err := p.Port.Receive(ctx)
	if p.pulled() {
		return nil, p.gone("receiving")
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.heard.Feed(b, func(midi.Frame) { p.count.heard++ })
	return b, err
}

func (p *tap) counted() counted {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.count
}

func (p *tap) pulled() bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.pullAfter > 0 && p.count.sent >= p.pullAfter
}

func (p *tap) gone(doing string) error {
	return &port.Error{Port: "the bench", Doing: doing, Err: port.ErrGone}
}
