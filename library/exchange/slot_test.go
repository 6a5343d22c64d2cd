package exchange

import (
	"bytes"
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/transfer"
	"echowright/profiles"
)

// A script answers each step with the next of its messages.
type script struct{ answers [][]byte }

func (s *script) Run(_ context.Context, steps []midi.Step) (transfer.Result, error) {
	answer := s.answers[0]
	s.answers = s.answers[1:]
	return transfer.Result{Messages: len(steps), Replies: []transfer.Reply{{Message: answer}}}, nil
}

// slot5 is what the five-line unit sends of slot 5, after spoiling its memory: the
// message's own sum of seven bits is right all the same, as it is by chance in one
// of 128 damaged ones.
func slot5(t *testing.T, d *profiles.Device, spoil func(memory []byte)) []byte {
	t.Helper()
	memory := d.AppendSlot(nil, d.Rest())
	spoil(memory)
	m := []byte{0xF0, 0x7D, 0x05, 0x00, 0x21, 5}
	m = midi.AppendPacked(m, memory, midi.FirstHigh)
	sum := byte(0)
	for _, b := range m[4:] {
		sum += b
	}
	return append(m, -sum&0x7F, 0xF7)
}

func TestAMemoryWhoseOwnCheckFails(t *testing.T) {
	device, err := profiles.Shipped("five-line")
	require.NoError(t, err)
	whole := slot5(t, device, func([]byte) {})
	hurt := func(at int) []byte { return slot5(t, device, func(m []byte) { m[at] ^= 1 }) }
	for _, c := range []struct {
		name    string
		answers [][]byte
		want    []byte // nil: an error
		fault   bool
	}{
		{"whole", [][]byte{whole}, whole, false},
		{"hurt on the way, then whole", [][]byte{hurt(3), whole}, whole, false},
		// The device asks for four tries (retries = 3 in its profile), each of which
		// comes damaged; it is asked again to see whether it keeps the memory so.
		{"the device keeps it so", [][]byte{hurt(3), hurt(3), hurt(3), hurt(3), hurt(3), hurt(3), hurt(3), hurt(3)}, hurt(3), true},
		{"hurt on the way in every try but a later one", [][]byte{hurt(3), hurt(4), hurt(5), hurt(6), whole}, whole, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			link := &script{answers: c.answers}
			s := Session{Device: device, Link: link, Now: time.Now}
			slot, _, err := s.ReadSlot(t.Context(), 5)
			require.NoError(t, err)
			require.True(t, bytes.Equal(c.want, slot.Message))
			require.Equal(t, c.fault, slot.Fault != nil)
			require.Empty(t, link.answers, "it asks no more often than it has to")
		})
	}
	var always [][]byte
	for at := range 20 {
		always = append(always, hurt(at))
	}
	s := Session{Device: device, Link: &script{answers: always}, Now: time.Now}
	_, _, err = s.ReadSlot(t.Context(), 5)
	require.ErrorContains(t, err, "it came differently each time")
}
