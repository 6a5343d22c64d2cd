package measure

import (
	"encoding/binary"
	"errors"
	"math"
	"math/rand"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// FuzzHeads plays any bytes as 16-bit samples, stretched to a length that can be
// measured: it has to end soon, with a unit that is one or with an error.
func FuzzHeads(f *testing.F) {
	f.Add([]byte{}, uint8(2), uint16(8000))
	f.Add([]byte{0, 0, 255, 127, 0, 128}, uint8(0), uint16(8000))
	note, _, _ := record(rand.New(rand.NewSource(31)), plucked{pitch: 330, bright: 1, ring: 0.1, damp: 0.03, peak: 0.5},
		unit{delays: []float64{60}, levels: []float64{-2}}, recording{rate: 8000, lead: 0.06, seconds: 0.3, noise: -60})
	var raw []byte
	for _, v := range note {
		raw = binary.LittleEndian.AppendUint16(raw, uint16(int16(v*32767)))
	}
	f.Add(raw, uint8(1), uint16(8000))
	f.Fuzz(func(t *testing.T, raw []byte, heads uint8, rate uint16) {
		const most = 6000
		x := make([]float64, 0, most)
		for i := 0; i+1 < len(raw) && len(x) < most; i += 2 {
			x = append(x, float64(int16(binary.LittleEndian.Uint16(raw[i:])))/32768)
		}
		for len(x) > 0 && len(x) < 1000 {
			x = append(x, x...)
		}
		start := time.Now()
		r, err := Heads(Take{Rate: preset.Hertz(rate), Samples: x}, Options{Heads: allHeads[:heads%6]})
		require.Less(t, time.Since(start), time.Minute)
		var refusal *Refusal
		if err != nil {
			if errors.As(err, &refusal) {
				require.NotEmpty(t, refusal.Reason)
			}
			return
		}
		require.NotEmpty(t, r.Unit.Heads)
		for _, h := range r.Unit.Heads {
			for _, v := range []float64{float64(h.Delay), float64(h.DelaySD), float64(h.Level), float64(h.LevelSD), float64(h.HighCutHz)} {
				require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "%+v", h)
			}
			require.LessOrEqual(t, h.Level, preset.Decibels(0))
		}
	})
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
