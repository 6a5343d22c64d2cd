package port_test

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
)

func receive(t *testing.T, p port.Port) string {
	t.Helper()
	b, err := p.Receive(t.Context())
	require.NoError(t, err)
	return string(b)
}

func TestPlay(t *testing.T) {
	p := port.Play("recorded", []port.Exchange{
		{Sent: true, Bytes: []byte("who are you?")},
		{Sent: false, Bytes: []byte("an echo")},
		{Sent: true, Bytes: []byte("bye")},
		{},
	})
	require.NoError(t, p.Send(t.Context(), []byte("who are")))
	require.NoError(t, p.Send(t.Context(), []byte(" you?")), "cut otherwise than before")
	require.Equal(t, "an echo", receive(t, p))
	require.NoError(t, p.Send(t.Context(), []byte("bye")))
	_, err := p.Receive(t.Context())
	require.ErrorIs(t, err, port.ErrGone, "it went away then")
	require.ErrorIs(t, p.Send(t.Context(), []byte("x")), port.ErrGone)
	require.NoError(t, p.Close())
	require.ErrorIs(t, p.Send(t.Context(), []byte("x")), port.ErrClosed)
	_, err = p.Receive(t.Context())
	require.ErrorIs(t, err, port.ErrClosed)
}

// The device speaks when it has heard enough; whoever sends need not have listened.
func TestPlaySpeaksWhenItHasHeardEnough(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := port.Play("recorded", []port.Exchange{{Bytes: []byte("hello")}, {Sent: true, Bytes: []byte("ab")}, {Bytes: []byte("1")}, {Sent: true, Bytes: []byte("c")}})
		require.NoError(t, p.Send(t.Context(), []byte("a")), "it has not listened to the greeting")
		require.Equal(t, "hello", receive(t, p))
		brief, cancel := context.WithTimeout(t.Context(), time.Hour)
		defer cancel()
		_, err := p.Receive(brief)
		require.ErrorIs(t, err, context.DeadlineExceeded, "one byte is missing yet")
		require.NoError(t, p.Send(t.Context(), []byte("bc")))
		require.Equal(t, "1", receive(t, p))

		ended := make(chan error)
		go func() {
			_, err := p.Receive(t.Context())
			ended <- err
		}()
		synctest.Wait() // after the last exchange it is silent
		require.NoError(t, p.Close())
		require.ErrorIs(t, <-ended, port.ErrClosed)
	})
}

func TestPlayHearsTheDifference(t *testing.T) {
	conversation := []port.Exchange{{Sent: true, Bytes: []byte{0xF0, 0x7D, 0xF7}}, {Bytes: []byte{0xF8}}}
	for _, tc := range []struct {
		name string
		send []byte
		went int
		want string
	}{
		{"another byte", []byte{0xF0, 0x7E, 0xF7}, 1, "port recorded: sending: 1 of 3 bytes went: byte 1 sent is 7E: it was 7D in the recorded conversation"},
		{"more bytes", []byte{0xF0, 0x7D, 0xF7, 0xF0}, 3, "byte 3 sent is F0: nothing more was sent in the recorded conversation"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			p := port.Play("recorded", conversation)
			err := p.Send(t.Context(), tc.send)
			require.ErrorContains(t, err, tc.want)
			require.Equal(t, tc.went, port.Sent(err))
			var deviation *port.DeviationError
			require.ErrorAs(t, err, &deviation)
			require.Equal(t, tc.went, deviation.At)
		})
	}
}

func TestPlayEndsWithItsContext(t *testing.T) {
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	p := port.Play("recorded", []port.Exchange{{Sent: true, Bytes: []byte{0xF0}}})
	_, err := p.Receive(ended)
	require.ErrorIs(t, err, context.Canceled)
	require.ErrorIs(t, p.Send(ended, []byte{0xF0}), context.Canceled)
}

func TestErrorsInWords(t *testing.T) {
	err := error(&port.Error{Port: "raw:/dev/snd/midiC1D0", Doing: "sending", Sent: 12, Of: 40, Err: port.ErrGone, Next: "plug it in again"})
	require.EqualError(t, err, "port raw:/dev/snd/midiC1D0: sending: 12 of 40 bytes went: the other side went away; plug it in again")
	require.Equal(t, 12, port.Sent(err))
	require.Zero(t, port.Sent(port.ErrGone))
	require.EqualError(t, &port.Error{Port: "cable", Doing: "opening", Err: port.ErrBusy}, "port cable: opening: another program has the port")
}
