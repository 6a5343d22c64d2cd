package osport

import (
	"bytes"
	"sync"
	"testing"

	"echowright/midi/port"
	"echowright/midi/port/porttest"
)

// A belt is one direction of a system in the same process: messages in order.
type belt struct {
	mu       sync.Mutex
	messages [][]byte
}

func (b *belt) put(m []byte) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.messages = append(b.messages, bytes.Clone(m))
}

func (b *belt) next() []byte {
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.messages) == 0 {
		return nil
	}
	m := b.messages[0]
	b.messages = b.messages[1:]
	return m
}

// belted is a wire between two belts.
type belted struct {
	stub
	in, out *belt
	size    int
}

func (w *belted) piece() int            { return w.size }
func (w *belted) take() ([]byte, error) { return w.in.next(), nil }
func (w *belted) give(m []byte) error   { w.out.put(m); return nil }

func TestPortOfASystem(t *testing.T) {
	for name, piece := range map[string]int{"whole messages": 0, "pieces as they come": 32} {
		t.Run(name, func(t *testing.T) {
			porttest.RunMessages(t, 0, func(*testing.T) (near, far port.Port) {
				there, back := &belt{}, &belt{}
				return newPort("os:near", &belted{in: back, out: there, size: piece}), newPort("os:far", &belted{in: there, out: back, size: piece})
			})
		})
	}
}
