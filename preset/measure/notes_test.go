package measure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// struck is decaying tones at the given times in noise.
func struck(seconds float64, at ...float64) []float64 {
	x := noiseOf(int(seconds*quickRate), 3e-4)
	for i := range x {
		for _, a := range at {
			if u := float64(i)/quickRate - a; u >= 0 {
				x[i] += 0.3 * math.Exp(-u/0.08) * math.Sin(2*math.Pi*300*u+0.5)
			}
		}
	}
	return x
}

func TestNotesAreFoundByTheirRise(t *testing.T) {
	for _, c := range []struct {
		name  string
		x     []float64
		onset []float64
	}{
		{"one note", struck(2, 0.31), []float64{0.31}},
		{"from the very start", struck(2, 0), []float64{0}},
		{"three notes", struck(6, 0.3, 2.3, 4.4), []float64{0.3, 2.3, 4.4}},
		{"an echo is no note", struck(3, 0.3, 0.7, 1.1), []float64{0.3}},
		{"noise", noiseOf(2*quickRate, 0.01), nil},
		{"silence", make([]float64, quickRate), nil},
		{"nothing", nil, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			notes := findNotes(c.x, quickRate, noiseFloor(c.x, quickRate))
			require.Len(t, notes, len(c.onset))
			for i, n := range notes {
				require.InDelta(t, c.onset[i], float64(n.at)/quickRate, 0.002)
				require.Greater(t, n.end, n.at)
				require.LessOrEqual(t, n.end, len(c.x))
			}
		})
	}
}

func TestNotesEndWhereTheySinkIntoTheNoise(t *testing.T) {
	n := findNotes(struck(4, 0.3), quickRate, 9e-8)[0]
	// 0.3·e^(−t/0.08) is down to 3·10⁻⁴ after 0.55 s.
	require.InDelta(t, 0.85+0.15, float64(n.end)/quickRate, 0.15)
}

func TestNoiseFloorIsThatOfTheQuietestStretch(t *testing.T) {
	require.InEpsilon(t, 9e-8, noiseFloor(struck(3, 0.5), quickRate), 0.1)
	gated := struck(3, 0.5)
	clear(gated[:5000])
	require.InEpsilon(t, 9e-8, noiseFloor(gated, quickRate), 0.1, "zeros are no noise")
	require.Zero(t, noiseFloor(make([]float64, quickRate), quickRate))
	require.InDelta(t, 0.25, noiseFloor([]float64{0.5, -0.5}, quickRate), 1e-12, "too short to choose")
}

func TestClippingIsFound(t *testing.T) {
	x := struck(2, 0.3)
	require.Empty(t, clipping(x))
	for i, v := range x {
		x[i] = math.Max(-0.2, math.Min(0.2, v))
	}
	at := clipping(x)
	require.NotEmpty(t, at)
	require.InDelta(t, 0.3, float64(at[0])/quickRate, 0.005)
}
