package measure

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/require"
)

// A tone that is played is that of the formula in the band of the stage, to 0.01 dB
// and 1 µs: a fifth of what is asked of levels and delays with a steady carrier.
func TestThePlayedToneIsThatOfTheFormula(t *testing.T) {
	for _, c := range []struct {
		name       string
		rate, high float64
		tone       shape
	}{
		{"fine", 12_000, 3300, shape{high: 1 / (2 * math.Pi * 4000), low: 2 * math.Pi * 70}},
		{"fine, computed at 48 kHz", 12_000, 3300, shape{high: 1 / (2 * math.Pi * 4000), low: 2 * math.Pi * 70, step: 1 / 48_000.0}},
		{"dull machine", 12_000, 3300, shape{high: 1 / (2 * math.Pi * 1200), low: 2 * math.Pi * 300}},
		{"bright machine", 12_000, 3300, shape{high: 1 / (2 * math.Pi * 12_000)}},
		{"low", 6000, 1600, shape{high: 1 / (2 * math.Pi * 2500), low: 2 * math.Pi * 150}},
		{"dull", 2400, 600, shape{high: 1 / (2 * math.Pi * 4500), low: 2 * math.Pi * 60}},
		{"no tone", 6000, 1600, shape{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newWeighing(c.rate, c.high).recorder(&c.tone)
			click := make([]float64, 1<<14)
			for i := range click {
				v := 0.0
				if i == 0 {
					v = 1
				}
				click[i] = r.step(v)
			}
			for i, got := range fourierOf(click) {
				f := float64(i) * c.rate / float64(len(click))
				if f < 50 || f > c.high {
					continue
				}
				late := cmplx.Rect(1, -2*math.Pi*f/c.rate*weightsBefore)
				off := got / late / c.tone.at(2*math.Pi*f)
				require.InDelta(t, 0, 20*math.Log10(cmplx.Abs(off)), 0.01, "%g Hz", f)
				if f > 300 { // where delays are stated
					require.InDelta(t, 0, cmplx.Phase(off)/(2*math.Pi*f)*1e6, 1, "%g Hz, µs", f)
				}
			}
		})
	}
}

// No tone is played so loudly outside the band that a loop could not hold it.
func TestThePlayedToneStaysQuietAboveItsBand(t *testing.T) {
	for _, high := range []float64{600, 1200, 4500, 20_000} {
		tone := shape{high: 1 / (2 * math.Pi * high), low: 2 * math.Pi * 60}
		r := newWeighing(12_000, 3300).recorder(&tone)
		click := make([]float64, 4096)
		click[0] = 1
		for i := range click {
			click[i] = r.step(click[i])
		}
		for i, got := range fourierOf(click) {
			require.Less(t, cmplx.Abs(got), 1.1, "high cut %g Hz, bin %d", high, i)
		}
	}
}
