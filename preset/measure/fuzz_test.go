package measure

import (
	"encoding/binary"
	"errors"
	"math"
	"math/rand"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// samplesOf reads samples of a take from any bytes: 16-bit ones, or floats, among
// which there may be infinite ones and such as are no numbers.
func samplesOf(raw []byte, floats bool, most int) []float64 {
	x := make([]float64, 0, most)
	for size := 2; len(raw) >= size && len(x) < most; raw = raw[size:] {
		if floats {
			if size = 4; len(raw) < size {
				break
			}
			x = append(x, float64(math.Float32frombits(binary.LittleEndian.Uint32(raw))))
			continue
		}
		x = append(x, float64(int16(binary.LittleEndian.Uint16(raw)))/32768)
	}
	for len(x) > 0 && len(x) < 1000 {
		x = append(x, x...)
	}
	return x
}

// What a quarter of a second may cost: some minutes of the slowest machine's time
// would be a hang, some hundred times the take's size a leak.
const (
	longestFuzz = time.Minute
	mostFuzzed  = 2 << 30 // bytes allocated in all, most of them freed at once
)

// FuzzHeads plays any bytes as samples of any rate, stretched to a length that can
// be measured, with any heads named: it has to end soon, with a unit that is one or
// with an error.
func FuzzHeads(f *testing.F) {
	nan := binary.LittleEndian.AppendUint32(nil, math.Float32bits(float32(math.NaN())))
	infinite := binary.LittleEndian.AppendUint32(nil, math.Float32bits(float32(math.Inf(-1))))
	huge := binary.LittleEndian.AppendUint32(nil, math.Float32bits(3e38))
	f.Add([]byte{}, false, []byte{1, 2}, 8000.0)
	f.Add([]byte{0, 0, 255, 127, 0, 128}, false, []byte{}, 8000.0)
	f.Add(nan, true, []byte{1}, 48000.0)
	f.Add(infinite, true, []byte{1}, 48000.0)
	f.Add(huge, true, []byte{1}, 48000.0)
	for _, rate := range []float64{0, -1, 1e-300, 7999, 8000.5, 384000, 384001, 1e300, math.Inf(1), math.NaN()} {
		f.Add([]byte{1, 2, 3, 4}, false, []byte{1}, rate)
	}
	for _, heads := range [][]byte{{0}, {2, 1}, {3, 3}, {255}, {1, 200}, make([]byte, 300)} {
		f.Add([]byte{1, 2, 3, 4}, false, heads, 8000.0)
	}
	note, _, _ := record(rand.New(rand.NewSource(31)), plucked{pitch: 330, bright: 1, ring: 0.1, damp: 0.03, peak: 0.5},
		unit{delays: []float64{60}, levels: []float64{-2}}, recording{rate: 8000, lead: 0.06, seconds: 0.3, noise: -60})
	var raw []byte
	for _, v := range note {
		raw = binary.LittleEndian.AppendUint16(raw, uint16(int16(v*32767)))
	}
	for _, heads := range [][]byte{{}, {1}, {1, 2}, {7, 8, 9}} {
		f.Add(raw, false, heads, 8000.0)
	}
	f.Fuzz(func(t *testing.T, raw []byte, floats bool, numbers []byte, rate float64) {
		take := Take{Rate: preset.Hertz(rate), Samples: samplesOf(raw, floats, 6000)}
		var o Options
		for _, n := range numbers {
			o.Heads = append(o.Heads, int(n))
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		start := time.Now()
		r, err := Heads(take, o)
		require.Less(t, time.Since(start), longestFuzz)
		runtime.ReadMemStats(&after)
		require.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(mostFuzzed))
		if err != nil {
			var refusal *Refusal
			if errors.As(err, &refusal) {
				require.NotEmpty(t, refusal.Reason)
			}
			require.NotEmpty(t, err.Error())
			return
		}
		requireFigures(t, r, o.Heads)
	})
}

// requireFigures is that r is a unit of the heads named, all of whose figures are
// numbers.
func requireFigures(t *testing.T, r Result, named []int) {
	t.Helper()
	require.NotEmpty(t, r.Unit.Heads)
	if len(named) > 0 {
		require.Equal(t, named, r.Unit.HeadNumbers())
	}
	for _, h := range r.Unit.Heads {
		for _, v := range []float64{float64(h.Delay), float64(h.DelaySD), float64(h.Level), float64(h.LevelSD), float64(h.HighCutHz)} {
			require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "%+v", h)
		}
		require.LessOrEqual(t, h.Level, preset.Decibels(0))
	}
	for _, w := range r.Warnings {
		require.NotContains(t, w.What, "NaN")
		require.NotEmpty(t, w.Do)
	}
}

// BenchmarkHeads measures takes of four seconds at 48 kHz; a second each is the
// aim, the plain ones need less.
func BenchmarkHeads(b *testing.B) {
	three := unit{delays: []float64{121, 263, 405}, levels: []float64{-7, 0, -2}, feeds: []int{2}, loop: -7}
	three.tone = []biquad{highPass1(80, 48000*over), lowPass1(3000, 48000*over)}
	driven, moving := three, three
	driven.drive = 4
	moving.wow[0] = [2]float64{0.002, 1.1}
	for _, c := range []struct {
		name string
		unit unit
	}{{"plain", three}, {"driven", driven}, {"wow", moving}} {
		take := recording{rate: 48000, lead: 0.25, seconds: 4, noise: -72}
		x, _, _ := record(rand.New(rand.NewSource(1)), shortNote, c.unit, take)
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				_, err := Heads(Take{Rate: 48000, Samples: x}, Options{Heads: []int{2, 4, 6}})
				require.NoError(b, err)
			}
			b.ReportMetric(take.seconds*float64(b.N)/b.Elapsed().Seconds(), "×real-time")
		})
	}
}
