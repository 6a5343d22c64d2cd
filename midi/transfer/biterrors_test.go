package transfer

import (
	"bytes"
	"context"
	"errors"
	"math/rand/v2"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port"
)

// A badLine turns bits over, loses bytes and doubles them, both ways.
type badLine struct {
	port.Port
	out, in *rand.Rand
	rate    float64 // of a fault, for each bit
}

func (p *badLine) Send(ctx context.Context, b []byte) error {
	return p.Port.Send(ctx, p.spoil(p.out, b))
}

func (p *badLine) Receive(ctx context.Context) ([]byte, error) {
	for {
		b, err := p.Port.Receive(ctx)
		if b = p.spoil(p.in, b); len(b) > 0 || err != nil {
			return b, err
		}
	}
}

func (p *badLine) spoil(r *rand.Rand, b []byte) []byte {
	var out []byte
	for _, c := range b {
		for bit := range 8 {
			if r.Float64() < p.rate {
				c ^= 1 << bit
			}
		}
		switch fate := r.Float64(); {
		case fate < p.rate: // lost
		case fate < 2*p.rate:
			out = append(out, c, c)
		default:
			out = append(out, c)
		}
	}
	return out
}

// On a bad line a step either is done, and then the device has heard it, or fails
// with a reason, in bounded time. The protocol acknowledges by command, so that a
// damaged acknowledge fits no other step.
func TestBitErrorsBothWays(t *testing.T) {
	const steps = 300
	for _, tc := range []struct {
		name string
		rate float64
		done int // at least so many of 300
	}{
		// A try has 72 bits and 9 bytes both ways: it passes with (1−p)^72·(1−2p)^9,
		// 0.91 at 1e-3 and 0.40 at 1e-2; three tries with 0.9993 and 0.79. The
		// bounds lie three standard deviations of the binomial lower.
		{"one bit in a thousand", 1e-3, 298},
		{"one bit in a hundred", 1e-2, 215},
	} {
		t.Run(tc.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				near, far := port.Pipe("cable")
				bad := &badLine{Port: near, out: rand.New(rand.NewPCG(1, 2)), in: rand.New(rand.NewPCG(3, 4)), rate: tc.rate}
				l, d := talkOver(t, bad, far, Options{}, always(say{after: 5 * ms, hex: done}))
				good := 0
				for n := range steps {
					s := step(0x10 + n%0x60)
					began, before := time.Now(), len(d.heard())
					_, err := l.Run(t.Context(), []midi.Step{s})
					// Three tries with what is under way after each, and what was owed.
					require.Less(t, time.Since(began), 4*(1280*us+100*ms+lull)+10*ms)
					if err != nil {
						var silent *NoAnswerError
						require.True(t, errors.As(err, &silent), "%v", err)
						continue
					}
					good++
					require.Contains(t, d.heard()[before:], midi.Hex(s.Send), "what is done has arrived")
				}
				require.GreaterOrEqual(t, good, tc.done)
				t.Logf("%d of %d done", good, steps)
			})
		})
	}
}

// A file over a line that spoils a bit now and then is taken as it was sent or
// not at all: a single wrong bit shows in the packet's checksum, a lost byte in
// its count (M1 page 43), a packet that came twice in its number. A lost end
// leaves it unwritten without a word, which is for reading back to find.
func TestAFileOverABadLine(t *testing.T) {
	whole, given := 0, 0
	for seed := range uint64(20) {
		synctest.Test(t, func(t *testing.T) {
			file := dumpFile()
			taker := &dumpTaker{}
			near, far := port.Pipe("cable")
			// 300 packets have 3.3e5 bits: some seven of them are spoiled.
			bad := &badLine{Port: near, out: rand.New(rand.NewPCG(seed, 1)), in: rand.New(rand.NewPCG(seed, 2)), rate: 2e-5}
			l, d := talkOver(t, bad, far, Options{}, nil)
			d.hears = taker.hear
			_, err := l.Run(t.Context(), sendingSteps(t, file))
			time.Sleep(time.Second)
			synctest.Wait()
			switch {
			case taker.stored != nil:
				require.True(t, bytes.Equal(file, taker.stored), "seed %d: %v", seed, err)
				require.NoError(t, err)
				whole++
			case err != nil:
				given++
			}
		})
	}
	require.Positive(t, whole, "whole %d, given up %d of 20", whole, given)
	require.Positive(t, given, "whole %d, given up %d of 20", whole, given)
	t.Logf("whole %d, given up %d of 20", whole, given)
}
