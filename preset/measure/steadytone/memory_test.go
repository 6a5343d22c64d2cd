package steadytone

import (
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// Ten minutes take no more memory than one does: what a meter keeps of a minute
// (the speed, thinned, and its statistics) is kept in rooms that are full by then.
func TestTenMinutesTakeNoMoreMemoryThanOne(t *testing.T) {
	const rate = 8000
	second := make([]float64, rate)
	tone := machine(waver{0.1, 2}) // two whole turns a second: it can be repeated
	tone.seconds = 2
	for i := range second {
		second[i] = tone.at((i + rate) * 48_000 / rate)
	}
	m, err := New(Options{Rate: preset.Hertz(rate), Nominal: usual.Nominal})
	require.NoError(t, err)
	var early, late runtime.MemStats
	for n := range 600 {
		m.Add(second)
		if n == 60 {
			runtime.GC()
			runtime.ReadMemStats(&early)
		}
	}
	runtime.GC()
	runtime.ReadMemStats(&late)
	r, err := m.Result()
	require.NoError(t, err)
	require.InDelta(t, 600, r.Measured, 5)
	require.Less(t, float64(late.HeapAlloc)-float64(early.HeapAlloc), 100e3, "bytes more")
}
