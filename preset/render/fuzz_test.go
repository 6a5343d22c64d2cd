package render

import (
	"math"
	"testing"

	"echowright/preset"
)

// Whatever the figures, a graph is refused or rendered: finite, and where the loop
// would howl, bounded.
func FuzzRender(f *testing.F) {
	f.Add(100.3, 250.7, -6.0, 80.0, 3000.0, 0.2, 0.9, 9.0, 0.2, 48_000.0)
	f.Add(1.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 44_100.0)
	f.Add(2.1, 1.3, 12.0, 9000.0, 30.0, 24.0, 990.0, 60.0, -2.0, 192_000.0)
	f.Add(59_000.0, 3.0, 3.0, 24_000.0, 24_000.0, 25.0, 0.01, -60.0, 2.0, 8000.0)
	f.Fuzz(func(t *testing.T, first, second, gain, low, high, wow, hz, drive, bias, rate float64) {
		if !(first+second < 3000 || first > 58_000) {
			t.Skip("memory of minutes takes minutes to clear")
		}
		tone := preset.Tone{LowCut: preset.Hertz(low), HighCut: preset.Hertz(high)}
		m := Machine{
			Pattern: preset.Pattern{
				Taps:    []preset.Tap{{Delay: preset.Millis(first), Tone: tone}, {Delay: preset.Millis(second), Inverted: true}},
				Returns: []preset.Return{{Delay: preset.Millis(second), Gain: preset.Decibels(math.Min(gain, 12)), Tone: tone}},
			},
			Motion: &preset.Motion{WowPercent: preset.Percent(wow), WowHz: preset.Hertz(hz)}, Direct: 1,
		}
		if drive != 0 {
			m.Drive = &preset.Drive{Gain: preset.Decibels(drive), Bias: bias}
		}
		r, err := New(m.Graph(), Options{Rate: preset.Hertz(rate), Channels: 1})
		if err != nil {
			return
		}
		x := noise(3000, 1)
		for range 4 {
			if err := r.Process([][]float64{x}, [][]float64{x}); err != nil {
				t.Fatal(err)
			}
			for i, v := range x {
				if v-v != 0 {
					t.Fatalf("sample %d: %v", i, v)
				}
			}
			x = noise(3000, 2)
		}
	})
}
