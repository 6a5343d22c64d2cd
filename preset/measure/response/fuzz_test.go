package response

import (
	"encoding/binary"
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/signals"
)

// Whatever the response, the figures are numbers, as many as heads were named, or
// it is refused.
func FuzzTrace(f *testing.F) {
	f.Add([]byte{}, uint16(8000), uint8(1), false, 100.0)
	f.Add([]byte{0, 0, 255, 127, 0, 0, 0, 64}, uint16(24_000), uint8(1), false, 300.0)
	f.Add([]byte{0, 0, 255, 127, 0, 128, 0, 64}, uint16(8000), uint8(3), true, -1.0)
	pulse := make([]byte, 4000)
	binary.LittleEndian.PutUint16(pulse[400:], 0x7FFF)
	binary.LittleEndian.PutUint16(pulse[2400:], 0x4000)
	f.Add(pulse, uint16(8000), uint8(1), false, math.NaN())
	f.Fuzz(func(t *testing.T, raw []byte, rate uint16, heads uint8, two bool, ghost float64) {
		const most = 20_000
		var x []float64
		for i := 0; i+1 < len(raw) && len(x) < most; i += 2 {
			x = append(x, float64(int16(binary.LittleEndian.Uint16(raw[i:])))/32768)
		}
		trace := Trace{Rate: preset.Hertz(rate), Wet: x, Low: 50, High: preset.Hertz(rate) / 2.5, Ghosts: []preset.Millis{preset.Millis(ghost)}}
		if two {
			trace.Dry = append([]float64(nil), x...)
			for i := range trace.Dry {
				trace.Dry[i] = x[len(x)-1-i]
			}
		}
		named := []int{1, 2, 3, 5}[:heads%5]
		r, err := trace.Measure(named)
		if err != nil {
			var refusal *signals.Refusal
			if errors.As(err, &refusal) {
				require.NotEmpty(t, refusal.Do)
			}
			return
		}
		require.Len(t, r.Heads, len(named))
		for _, h := range r.Heads {
			for _, v := range []float64{float64(h.Delay), float64(h.DelaySD), float64(h.Level), float64(h.LevelSD), float64(h.HighCutHz)} {
				require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "%+v", h)
			}
		}
	})
}
