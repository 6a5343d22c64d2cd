package measure

import (
	"math/rand"
	"runtime"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// peakHeap is how far, in MB, the heap grows while work is done, garbage that was
// not yet collected included: what the process asks the system for. It looks every
// millisecond, and so may miss what lives for less.
func peakHeap(work func()) float64 {
	runtime.GC()
	var before runtime.MemStats
	runtime.ReadMemStats(&before)
	peak := before.HeapAlloc
	stop := make(chan struct{})
	var watching sync.WaitGroup
	watching.Go(func() {
		for {
			var now runtime.MemStats
			runtime.ReadMemStats(&now)
			peak = max(peak, now.HeapAlloc)
			select {
			case <-stop:
				return
			case <-time.After(time.Millisecond):
			}
		}
	})
	work()
	close(stop)
	watching.Wait()
	return float64(peak-before.HeapAlloc) / 1e6
}

func fourSeconds(change func(*unit)) Take {
	u := unit{delays: []float64{121, 263, 405}, levels: []float64{-7, 0, -2}, feeds: []int{2}, loop: -7}
	u.tone = []biquad{highPass1(80, 48000*over), lowPass1(3000, 48000*over)}
	change(&u)
	x, _, _ := record(rand.New(rand.NewSource(1)), shortNote, u, recording{rate: 48000, lead: 0.25, seconds: 4, noise: -72})
	return Take{Rate: 48000, Samples: x}
}

// A take of four seconds may take 200 MB.
func TestFourSecondsAreMeasuredInLittleMemory(t *testing.T) {
	take := fourSeconds(func(*unit) {})
	peak := peakHeap(func() {
		_, err := Heads(take, Options{Heads: []int{2, 4, 6}})
		require.NoError(t, err)
	})
	t.Logf("%.0f MB at the peak", peak)
	require.Less(t, peak, 200.0)
	require.Greater(t, peak, 1.0, "the take itself is a copy of 1.5 MB: else nothing was seen")
}

func BenchmarkMemoryOfFourSeconds(b *testing.B) {
	for _, c := range []struct {
		name   string
		change func(*unit)
	}{
		{"plain", func(*unit) {}},
		{"driven", func(u *unit) { u.drive = 4 }},
		{"wow", func(u *unit) { u.wow[0] = [2]float64{0.002, 1.1} }},
	} {
		take := fourSeconds(c.change)
		b.Run(c.name, func(b *testing.B) {
			peak := 0.0
			for b.Loop() {
				peak = max(peak, peakHeap(func() {
					_, err := Heads(take, Options{Heads: []int{2, 4, 6}})
					require.NoError(b, err)
				}))
			}
			b.ReportMetric(peak, "MB-at-peak")
		})
	}
}
