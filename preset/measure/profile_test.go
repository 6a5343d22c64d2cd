package measure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// resting is a fit that leaves so many dB more than the noise, with a high cut of
// 0.06 ms (2.65 kHz).
func resting(beyond float64) fitted {
	return fitted{
		machine:  machine{tone: tone{highCut: 6e-5}},
		sound:    sound{rate: quickRate, noise: 1e-8},
		residual: 1e-8 * math.Pow(10, beyond/10),
	}
}

func TestWhatIsNotExplainedIsInDoubt(t *testing.T) {
	for _, c := range []struct {
		name         string
		beyond       float64
		delay, level [2]float64 // at least, at most
	}{
		{"nothing left", 0, [2]float64{0, 0}, [2]float64{0, 0}},
		{"less than the noise", -0.5, [2]float64{0, 0}, [2]float64{0, 0}},
		{"another tone: half the high cut", 0.3, [2]float64{0.03, 0.031}, [2]float64{0.07, 0.08}},
		{"half as much", 0.15, [2]float64{0.015, 0.016}, [2]float64{0.03, 0.04}},
		{"another machine", 12, [2]float64{0.1, 0.5}, [2]float64{0.5, 2}},
	} {
		delay, level := resting(c.beyond).doubtful()
		require.True(t, c.delay[0] <= delay && delay <= c.delay[1], "%s: %v ms", c.name, delay)
		require.True(t, c.level[0] <= level && level <= c.level[1], "%s: %v dB", c.name, level)
	}
}

// The more is left, the less is certain.
func TestDoubtGrowsWithTheRest(t *testing.T) {
	was, wasLevel := 0.0, 0.0
	for beyond := 0.1; beyond < 30; beyond *= 1.5 {
		delay, level := resting(beyond).doubtful()
		require.Greater(t, delay, was, "%v dB", beyond)
		require.Greater(t, level, wasLevel, "%v dB", beyond)
		was, wasLevel = delay, level
	}
}
