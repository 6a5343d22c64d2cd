package port_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
)

func receive(t *testing.T, p port.Port) string {
	t.Helper()
	b, err := p.Receive(t.Context())
	require.NoError(t, err)
	return string(b)
}

func TestRecordAndPlay(t *testing.T) {
	near, far := port.Pipe("cable")
	r := port.Record(near)
	require.NoError(t, r.Send(t.Context(), []byte("who ")))
	require.NoError(t, r.Send(t.Context(), []byte("are you?")))
	require.NoError(t, far.Send(t.Context(), []byte("an echo")))
	require.Equal(t, "an echo", receive(t, r))
	require.NoError(t, r.Send(t.Context(), []byte("bye")))
	require.NoError(t, far.Close())
	require.ErrorIs(t, r.Send(t.Context(), []byte("lost")), port.ErrGone)

	said := r.Conversation()
	require.Equal(t, []port.Exchange{
		{Sent: true, Bytes: []byte("who are you?")},
		{Sent: false, Bytes: []byte("an echo")},
		{Sent: true, Bytes: []byte("bye")},
	}, said)

	p := port.Play("recorded", said)
	require.NoError(t, p.Send(t.Context(), []byte("who are")))
	require.NoError(t, p.Send(t.Context(), []byte(" you?")), "cut otherwise than before")
	require.Equal(t, "an echo", receive(t, p))
	require.NoError(t, p.Send(t.Context(), []byte("bye")))
	_, err := p.Receive(t.Context())
	require.ErrorIs(t, err, port.ErrGone, "nothing more was recorded")
	require.ErrorIs(t, p.Send(t.Context(), []byte("x")), port.ErrGone)
	require.NoError(t, p.Close())
	require.ErrorIs(t, p.Send(t.Context(), []byte("x")), port.ErrClosed)
	_, err = p.Receive(t.Context())
	require.ErrorIs(t, err, port.ErrClosed)
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
		{"more bytes", []byte{0xF0, 0x7D, 0xF7, 0xF0}, 3, "byte 3 sent is F0: in the recorded conversation the device speaks now"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			p := port.Play("recorded", conversation)
			err := p.Send(t.Context(), tc.send)
			require.ErrorContains(t, err, tc.want)
			require.Equal(t, tc.went, port.Sent(err))
		})
	}
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	p := port.Play("recorded", conversation)
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
