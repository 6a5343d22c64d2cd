package transfer

import (
	"context"
	"math/rand/v2"
	"runtime"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port"
)

// noise is what a bad evening has on its line: clocks and active sensing, notes
// under running status, SysEx of others, broken ones, and one far longer than
// the limit.
func noise(r *rand.Rand, limit int) []byte {
	data := func(b []byte, n int) []byte {
		for range n {
			b = append(b, byte(r.IntN(0x80)))
		}
		return b
	}
	switch kind := r.IntN(500); {
	case kind < 200:
		return []byte{[]byte{0xF8, 0xFE, 0xFA, 0xF9}[r.IntN(4)]}
	case kind < 400:
		return data([]byte{0x90 | byte(r.IntN(16))}, 2+2*r.IntN(3))
	case kind < 450:
		return append(data([]byte{0xF0, 0x7D, 0x33}, r.IntN(300)), 0xF7)
	case kind < 485:
		return append(data([]byte{0xF0, 0x7D}, r.IntN(300)), 0xF1, 0x00)
	case kind < 499:
		return data(nil, r.IntN(40))
	}
	return append(data([]byte{0xF0, 0x7D, 0x34}, limit+r.IntN(limit)), 0xF7)
}

const noisyLimit = 8192

// noisyLine sends noise to the device's end, as fast as the wire carries it, for so long.
func noisyLine(t *testing.T, d *device, lasts time.Duration) *sync.WaitGroup {
	r := rand.New(rand.NewPCG(5, 6))
	ctx, stop := context.WithCancel(context.Background())
	var over sync.WaitGroup
	t.Cleanup(func() {
		stop()
		over.Wait()
	})
	over.Go(func() {
		for end := time.Now().Add(lasts); time.Now().Before(end); {
			b := noise(r, noisyLimit)
			for len(b) > 0 {
				n := min(len(b), 32)
				if d.Send(ctx, b[:n]) != nil {
					return
				}
				b = b[n:]
				time.Sleep(time.Duration(n) * 320 * us)
			}
		}
	})
	return &over
}

// heap is what is in use once all that can go is gone.
func heap() int64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

// Ten minutes of a line full of noise, 3125 bytes a second. In the five before
// them the inbox fills where nobody looks; then memory does not grow. The 256 kB
// are a quarter of what the inbox keeps: its list is a slice, which is allocated
// anew a quarter larger now and then.
func TestMemoryIsFlatOnANoisyLine(t *testing.T) {
	for _, tc := range []struct {
		name string
		busy bool
	}{{"while steps are run", true}, {"while nobody looks", false}} {
		t.Run(tc.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				l, d := talk(t, Options{Limit: noisyLimit, Retries: -1}, always())
				over := noisyLine(t, d, 15*time.Minute)
				began := time.Now()
				until := func(end time.Duration) {
					for tc.busy && time.Since(began) < end {
						_, err := l.Run(t.Context(), []midi.Step{step(0x10)})
						require.Error(t, err)
						d.forget()
					}
					time.Sleep(end - time.Since(began))
				}
				until(5 * time.Minute)
				early := heap()
				until(15 * time.Minute)
				late := heap()
				require.Less(t, late-early, int64(256<<10), "from %d to %d bytes", early, late)
				over.Wait()
				heard := l.inbox.count()
				require.InEpsilon(t, 900*3125, heard.Bytes, 0.01, "as much as the wire carries")
				require.Positive(t, min(heard.Messages, heard.RealTime, heard.Broken, heard.Stray), "%+v", heard)
				t.Logf("%+v; heap %d, %+d bytes later", heard, early, late-early)
			})
		})
	}
}

// slip is a port that gives a long stream as fast as it is read, and then says
// that it is over.
type slip struct {
	mute
	left *[]byte
	over chan struct{}
}

func (s slip) Receive(context.Context) ([]byte, error) {
	b := *s.left
	if len(b) == 0 {
		close(s.over)
		return nil, port.ErrGone
	}
	n := min(len(b), 4096)
	*s.left = b[n:]
	return b[:n], nil
}

// Ten minutes of noise through an inbox, beside the wire's 3125 bytes a second.
func BenchmarkTenMinutesOfNoise(b *testing.B) {
	r := rand.New(rand.NewPCG(7, 8))
	var stream []byte
	for len(stream) < 600*wireRate {
		stream = append(stream, noise(r, noisyLimit)...)
	}
	b.SetBytes(int64(len(stream)))
	before, grown := heap(), int64(0)
	for b.Loop() {
		left := stream
		s := slip{left: &left, over: make(chan struct{})}
		l := Open(s, Options{Limit: noisyLimit})
		<-s.over
		b.StopTimer()
		grown = max(grown, heap()-before)
		_ = l.Close()
		b.StartTimer()
	}
	b.ReportMetric(float64(grown)/1e6, "MB-held")
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/600*100, "%-of-real-time")
}
