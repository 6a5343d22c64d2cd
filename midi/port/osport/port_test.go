package osport

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port"
)

// stub is a system that keeps what it is given and gives what it is told to.
type stub struct {
	deaf, dumb, away bool
	refuses          error
	comes            [][]byte
	fails            error // after what comes
	given            []string
	looks, ends      int
}

func (s *stub) piece() int   { return 4 }
func (s *stub) hears() bool  { return !s.deaf }
func (s *stub) speaks() bool { return !s.dumb }
func (s *stub) end() error   { s.ends++; return s.refuses }

func (s *stub) take() ([]byte, error) {
	if len(s.comes) == 0 {
		return nil, s.fails
	}
	b := s.comes[0]
	s.comes = s.comes[1:]
	return b, nil
}

func (s *stub) give(m []byte) error {
	if s.refuses != nil {
		return s.refuses
	}
	s.given = append(s.given, midi.Hex(m))
	return nil
}

func (s *stub) there() bool {
	s.looks++
	return !s.away
}

func TestSendGivesMessages(t *testing.T) {
	s := &stub{}
	p := newPort("os:stub", s)
	require.NoError(t, p.Send(t.Context(), unhex(t, "90 3C")))
	require.Empty(t, s.given)
	require.NoError(t, p.Send(t.Context(), unhex(t, "40 F0 7D 01 02 03 F7")))
	require.Equal(t, []string{"90 3C 40", "F0 7D 01 02", "03 F7"}, s.given)
	s.refuses = errors.New("no room")
	err := p.Send(t.Context(), unhex(t, "C0 01"))
	require.EqualError(t, err, "port os:stub: sending: 0 of 2 bytes went: no room")
}

func TestReceiveGivesAllThatCame(t *testing.T) {
	p := newPort("os:stub", &stub{comes: [][]byte{unhex(t, "F0 7D F7"), unhex(t, "F8"), unhex(t, "C0 01")}})
	got, err := p.Receive(t.Context())
	require.NoError(t, err)
	require.Equal(t, "F0 7D F7 F8 C0 01", midi.Hex(got))
}

func TestReceiveTellsAFailureAfterWhatCame(t *testing.T) {
	p := newPort("os:stub", &stub{comes: [][]byte{{0xF8}}, fails: errors.New("too much")})
	got, err := p.Receive(t.Context())
	require.NoError(t, err)
	require.Equal(t, []byte{0xF8}, got)
	_, err = p.Receive(t.Context())
	require.EqualError(t, err, "port os:stub: receiving: too much")
}

func TestReceiveWaits(t *testing.T) {
	for _, tc := range []struct {
		name string
		do   func(p *systemPort, s *stub, cancel func())
		err  error
	}{
		{"for what comes", func(p *systemPort, s *stub, _ func()) {
			p.mu.Lock()
			defer p.mu.Unlock()
			s.comes = [][]byte{{0xFE}}
		}, nil},
		{"until its context ends", func(_ *systemPort, _ *stub, cancel func()) { cancel() }, context.Canceled},
		{"until the port is closed", func(p *systemPort, _ *stub, _ func()) { _ = p.Close() }, port.ErrClosed},
	} {
		t.Run(tc.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				ctx, cancel := context.WithCancel(t.Context())
				s := &stub{}
				p := newPort("os:stub", s)
				began := time.Now()
				time.AfterFunc(time.Minute, func() { tc.do(p, s, cancel) })
				_, err := p.Receive(ctx)
				require.ErrorIs(t, err, tc.err)
				require.GreaterOrEqual(t, time.Since(began), time.Minute)
				require.LessOrEqual(t, time.Since(began), time.Minute+glance)
			})
		})
	}
}

func TestWhatCameIsKeptForTheNextCall(t *testing.T) {
	p := newPort("os:stub", &stub{comes: [][]byte{{0xF8}}})
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := p.Receive(ended)
	require.ErrorIs(t, err, context.Canceled)
	got, err := p.Receive(t.Context())
	require.NoError(t, err)
	require.Equal(t, []byte{0xF8}, got)
}

// The system says nothing when a device is unplugged: the port has to look.
func TestGone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &stub{}
		p := newPort("os:stub", s)
		time.AfterFunc(time.Second, func() {
			p.mu.Lock()
			defer p.mu.Unlock()
			s.away, s.comes = true, [][]byte{{0xFE}}
		})
		began := time.Now()
		got, err := p.Receive(t.Context())
		require.NoError(t, err)
		require.Equal(t, []byte{0xFE}, got, "what came before is still given")
		_, err = p.Receive(t.Context())
		require.ErrorIs(t, err, port.ErrGone)
		require.LessOrEqual(t, time.Since(began), time.Second+roll+glance)
		require.LessOrEqual(t, s.looks, 6, "it is not looked for at every glance")

		s.away = false
		require.ErrorIs(t, p.Send(t.Context(), []byte{0xF8}), port.ErrGone, "what came back is not connected")
		require.Empty(t, s.given)
	})
}

func TestSendLooksToo(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &stub{away: true}
		p := newPort("os:stub", s)
		require.NoError(t, p.Send(t.Context(), []byte{0xF8}))
		time.Sleep(roll)
		require.ErrorIs(t, p.Send(t.Context(), []byte{0xF8}), port.ErrGone)
	})
}

func TestOneWayOnly(t *testing.T) {
	p := newPort("os:knobs", &stub{dumb: true})
	err := p.Send(t.Context(), []byte{0xF8})
	require.ErrorIs(t, err, port.ErrUnsupported)
	require.ErrorContains(t, err, "only lets it be heard")
	p = newPort("os:synth", &stub{deaf: true})
	_, err = p.Receive(t.Context())
	require.ErrorIs(t, err, port.ErrUnsupported)
	require.ErrorContains(t, err, "only lets it be spoken to")
}

func TestClose(t *testing.T) {
	s := &stub{}
	p := newPort("os:stub", s)
	require.NoError(t, p.Close())
	require.NoError(t, p.Close(), "closing twice is no error")
	require.Equal(t, 1, s.ends)
	require.ErrorIs(t, p.Send(t.Context(), []byte{0xF8}), port.ErrClosed)
	_, err := p.Receive(t.Context())
	require.ErrorIs(t, err, port.ErrClosed)

	p = newPort("os:stub", &stub{refuses: errors.New("no")})
	require.EqualError(t, p.Close(), "port os:stub: closing: no")
}
