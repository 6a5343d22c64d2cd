package measure

import (
	"math"
	"math/rand"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// A tone below the limit passes the low pass as it is, to a thousandth, and one that
// would come back mirrored is gone, to a thousandth: 60 dB, the noise of a good take.
func TestEverySecondSampleHoldsTheSameSound(t *testing.T) {
	const rate, step = 96_000.0, 2
	weights := lowPass(step)
	for f, want := range map[float64]float64{100: 1, 3000: 1, 15_000: 1, 17_000: 1, 30_000: 0, 40_000: 0} {
		x := make([]float64, 9600)
		for i := range x {
			x[i] = math.Sin(2 * math.Pi * f * float64(i) / rate)
		}
		kept := everyNth(x, weights, step)
		require.Len(t, kept, len(x)/step)
		for i := 100; i < len(kept)-100; i++ {
			require.InDelta(t, want*x[i*step], kept[i], 1e-3, "%g Hz, sample %d", f, i)
		}
	}
}

func TestTheLoudestPartOfALongTakeIsMeasured(t *testing.T) {
	const rate = 8000
	x := make([]float64, 100*rate)
	for i := 70 * rate; i < 95*rate; i++ {
		x[i] = 0.1
	}
	short, from := Take{Rate: rate, Samples: x, Dry: x}.shortened()
	require.Equal(t, preset.Hertz(rate), short.Rate)
	require.Len(t, short.Samples, dryLongest*rate)
	require.LessOrEqual(t, from, 70.0)
	require.GreaterOrEqual(t, from+dryLongest, 95.0)
}

// What is told of moments counts from the start of the take, not of the part that
// was measured; the unit is the same at any rate.
func TestAHigherRateAndALongLeadChangeNothing(t *testing.T) {
	t.Parallel()
	const rate, lead = 96_000.0, 66
	rng := rand.New(rand.NewSource(21))
	u := simulated{delays: []float64{101.37, 203.72}, levels: []float64{-4, 0}, feeds: []int{1}, loop: []float64{0.45}, tone: cutsAt(70, 4000)}
	x := playing(rng, rate, 4, 3)
	y := u.wet(x, rate)
	r := measuredPair(t, hissed(rng, x, -75), hissed(rng, y, -75), rate, []int{1, 2})
	steadyAim.holds(t, u.truth(), r.Unit)

	const slow = 8000
	x = playing(rng, slow, 4, 3)
	y = u.wet(x, slow)
	silence := make([]float64, lead*slow)
	dry, wet := hissed(rng, append(silence, x...), -75), hissed(rng, append(silence, y...), -75)
	r = measuredPair(t, dry, wet, slow, []int{1, 2})
	steadyAim.holds(t, u.truth(), r.Unit)
	require.True(t, warned(r, "only 60 s"), "%v", r.Warnings)
	// The first note begins 0.2 s after the lead.
	require.InDelta(t, 1000*(lead+0.2), float64(r.Onsets[0]), 5)
	// What is left is told for the part that was measured: the loudest minute, which
	// holds the notes (they begin within the first 1.2 s of what was played).
	require.Greater(t, float64(len(r.Left))*float64(r.LeftStep), 1000*(lead+1.2))
	require.True(t, math.IsNaN(float64(r.Left[0])), "not measured")
}

// The longest take that is accepted, 120 s, at 192 kHz: held in 369 MB, the rest
// beside it.
func BenchmarkLongTakeAtAHighRate(b *testing.B) {
	const rate = 192_000
	rng := rand.New(rand.NewSource(5))
	u := simulated{delays: []float64{101.3, 203.7, 310.2}, levels: []float64{-3, 0, -6}, feeds: []int{2}, loop: []float64{0.5}, tone: cutsAt(70, 4000)}
	x := playing(rng, rate, maxLength, 60)
	take := Take{Rate: rate, Dry: hissed(rng, x, -75), Samples: hissed(rng, u.wet(x, rate), -75)}
	x = nil
	runtime.GC()
	for b.Loop() {
		most := watchHeap(b)
		_, err := Heads(take, Options{Heads: []int{1, 2, 3}})
		require.NoError(b, err)
		b.ReportMetric(float64(most())/1e6, "MB-held")
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "s/take")
}

// watchHeap looks at the heap from time to time, until the function that it gives is
// called, which gives the most that was in use.
func watchHeap(t testing.TB) func() uint64 {
	t.Helper()
	stop, most := make(chan struct{}), make(chan uint64)
	go func() {
		var top uint64
		tick := time.NewTicker(10 * time.Millisecond)
		defer tick.Stop()
		for {
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			top = max(top, m.HeapInuse)
			select {
			case <-stop:
				most <- top
				return
			case <-tick.C:
			}
		}
	}()
	return func() uint64 { close(stop); return <-most }
}
