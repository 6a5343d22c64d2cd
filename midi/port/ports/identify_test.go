package ports_test

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port"
	"echowright/midi/port/ports"
)

// The answers, by the fields of the Identity Reply (MIDI 1.0 Detailed
// Specification 4.2.1, page 40): F0 7E unit 06 02, manufacturer, family and member
// with the low 7 bits first, four bytes of revision, F7.
const (
	first  = "F0 7E 03 06 02 7D 05 00 01 00 00 01 00 02 F7"
	second = "F0 7E 04 06 02 00 21 7F 02 01 00 00 01 00 00 00 F7"
	broken = "F0 7E 03 06 02 7D 05 00 F7"
)

// said is what comes, and when.
type said struct {
	after time.Duration
	hex   string
}

func TestIdentify(t *testing.T) {
	const ms = time.Millisecond
	one := midi.Identity{Unit: 3, Manufacturer: midi.Manufacturer{0x7D}, Family: 5, Member: 1, Revision: [4]byte{0, 1, 0, 2}}
	// Family 02 01 is 2 + 1·128, member 00 00.
	two := midi.Identity{Unit: 4, Manufacturer: midi.Manufacturer{0, 0x21, 0x7F}, Family: 130, Revision: [4]byte{1, 0, 0, 0}}
	for _, tc := range []struct {
		name string
		says []said
		want []midi.Identity
		err  string
	}{
		{name: "nobody answers"},
		{name: "one", says: []said{{10 * ms, first}}, want: []midi.Identity{one}},
		{name: "two on one line", says: []said{{10 * ms, first}, {20 * ms, second}}, want: []midi.Identity{one, two}},
		{name: "in pieces, with clocks between", says: []said{{1 * ms, "F8 F0 7E 03 06 F8"}, {2 * ms, "02 7D 05 00 01 00 00 01 00"}, {3 * ms, "FE 02 F7"}}, want: []midi.Identity{one}},
		{name: "the same twice is one", says: []said{{1 * ms, first}, {2 * ms, first}}, want: []midi.Identity{one}},
		{name: "other messages", says: []said{{1 * ms, "90 3C 40 F0 7D 01 F7 F0 7E 7F 06 01 F7"}, {2 * ms, first}}, want: []midi.Identity{one}},
		{name: "too late", says: []said{{ports.Patience + ms, first}}},
		{name: "a broken answer", says: []said{{1 * ms, broken}, {2 * ms, second}}, want: []midi.Identity{two},
			err: "what came is no whole answer: identity reply of 9 bytes, F0 7E 03 06 02 7D 05 00 F7: wanted 15 bytes that end with F7"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				near, far := port.Pipe("cable")
				defer near.Close()
				began := time.Now()
				for _, s := range tc.says {
					b, err := midi.ParseHex(s.hex)
					require.NoError(t, err)
					time.AfterFunc(s.after, func() { _ = far.Send(context.Background(), b) })
				}
				got, err := ports.Identify(t.Context(), near, ports.Patience)
				if tc.err != "" {
					require.EqualError(t, err, tc.err)
				} else {
					require.NoError(t, err)
				}
				require.Equal(t, tc.want, got)
				require.Equal(t, ports.Patience, time.Since(began))
				asked, err := far.Receive(t.Context())
				require.NoError(t, err)
				require.Equal(t, "F0 7E 7F 06 01 F7", midi.Hex(asked), "page 40: 7F asks all units")
				time.Sleep(time.Second) // for what is late
			})
		})
	}
}

func TestIdentifySaysWhyNot(t *testing.T) {
	near, far := port.Pipe("cable")
	b, err := midi.ParseHex(first)
	require.NoError(t, err)
	require.NoError(t, far.Send(t.Context(), b))
	go func() {
		_, _ = far.Receive(t.Context())
		_ = far.Close()
	}()
	got, err := ports.Identify(t.Context(), near, time.Minute)
	require.ErrorIs(t, err, port.ErrGone)
	require.Len(t, got, 1, "what came before it went is given")

	_, err = ports.Identify(t.Context(), near, time.Minute)
	require.ErrorIs(t, err, port.ErrGone)

	ended, cancel := context.WithCancel(t.Context())
	cancel()
	near, _ = port.Pipe("cable")
	_, err = ports.Identify(ended, near, time.Minute)
	require.ErrorIs(t, err, context.Canceled)
}
