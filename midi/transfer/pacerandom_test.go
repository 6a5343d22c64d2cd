package transfer

import (
	"context"
	"math/rand/v2"
	"runtime"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

// lazy is a stopwatch that takes its time, as a USB cable does that is asked once
// a millisecond, and fails now and then.
type lazy struct {
	*stopwatch
	r    *rand.Rand
	back []time.Duration // when Send returned
}

func (p *lazy) Send(ctx context.Context, b []byte) error {
	err := p.stopwatch.Send(ctx, b)
	time.Sleep(time.Duration(p.r.IntN(3000)) * us)
	p.back = append(p.back, time.Since(p.began))
	if p.r.IntN(20) == 0 {
		return errMute
	}
	return err
}

// Whatever is sent over whatever port, from one run to the next and also after a
// failure: no piece is larger than it may be, none begins before the one before
// has passed the wire, and no message before the silence behind it is over.
func TestNeverFasterThanTheReceiver(t *testing.T) {
	for seed := range uint64(20) {
		synctest.Test(t, func(t *testing.T) {
			r := rand.New(rand.NewPCG(seed, 1))
			p := &lazy{stopwatch: &stopwatch{began: time.Now(), closed: make(chan struct{})}, r: r}
			o := Options{Piece: 1 + r.IntN(200), Rate: []int{3125, 1000, 1500}[r.IntN(3)]}
			l := Open(p, o)
			defer l.Close()
			byteTime := time.Second / time.Duration(o.Rate)
			gap := time.Duration(r.IntN(20)) * ms
			first := map[int]bool{} // pieces that begin a message
			for range 30 {
				message := append([]byte{0xF0}, make([]byte, 1+r.IntN(600))...)
				first[len(p.when)] = true
				_, _ = l.Run(t.Context(), []midi.Step{{What: "dump", Send: append(message, 0xF7), Gap: gap}}) // failures are part of it
				time.Sleep(time.Duration(r.IntN(3)) * ms)
			}
			require.Greater(t, len(p.when), 30)
			for i := 1; i < len(p.when); i++ {
				require.LessOrEqual(t, p.sizes[i], o.Piece)
				least := p.when[i-1] + time.Duration(p.sizes[i-1])*byteTime
				if first[i] {
					least += gap
				}
				require.GreaterOrEqual(t, p.when[i], least, "piece %d of %d bytes", i, p.sizes[i])
				require.GreaterOrEqual(t, p.when[i], p.back[i-1])
			}
		})
	}
}

// The pace goes by the clock that was handed in and by nothing else.
func TestPacingByAClockOfOnesOwn(t *testing.T) {
	c := newHandClock()
	p := &stopwatch{began: time.Now(), closed: make(chan struct{})}
	began := c.clock().Now()
	l := Open(p, Options{Clock: c.clock(), Rate: 1})
	defer l.Close()
	moving, stop := context.WithCancel(t.Context())
	go func() {
		for moving.Err() == nil {
			c.move(100 * ms)
			runtime.Gosched()
		}
	}()
	r, err := l.Run(t.Context(), []midi.Step{{What: "five minutes on the wire", Send: append(append([]byte{0xF0}, make([]byte, 298)...), 0xF7), Gap: 4 * ms}})
	stop()
	require.NoError(t, err)
	require.Equal(t, []int{128, 128, 44}, p.sizes)
	require.GreaterOrEqual(t, r.Elapsed, 300*time.Second)
	require.GreaterOrEqual(t, c.clock().Now().Sub(began), r.Elapsed)
}

// What a device refuses is told by the name that the step has for people.
func TestARefusedValueIsNamed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, d := talk(t, Options{}, inOrder([]say{{after: ms, hex: done}}, []say{{after: ms, hex: routing}}, []say{{after: ms, hex: done}}))
		steps := []midi.Step{step(0x10), step(0x11), step(0x12)}
		steps[1].What = "line b feedback = +1.5 dB"
		r, err := l.Run(t.Context(), steps)
		require.EqualError(t, err, `step "line b feedback = +1.5 dB": the device refuses it: routing`)
		require.Len(t, r.Replies, 1)
		require.Len(t, d.heard(), 2, "nothing is sent after it, and it is not sent again")
	})
}
