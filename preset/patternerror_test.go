package preset

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// byIntegral is the definition taken literally: the Gaussians written out on a
// fine grid and added up.
func byIntegral(want, got []Echo) float64 {
	density := func(train []Echo, t float64) float64 {
		sum := 0.0
		for _, e := range train {
			sigma := math.Max(6, 0.025*float64(e.At)) / 2
			d := (t - float64(e.At)) / sigma
			sum += e.Level.Amplitude() * math.Exp(-d*d/2) / (sigma * math.Sqrt(2*math.Pi))
		}
		return sum
	}
	const step = 0.25
	var difference, whole float64
	for t := -100.0; t < 5000; t += step {
		p, q := density(want, t), density(got, t)
		difference += (p - q) * (p - q)
		whole += p * p
	}
	return 10 * math.Log10(difference/whole)
}

func TestPatternErrorIsTheIntegral(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	for range 40 {
		var want, got []Echo
		at := Millis(0)
		for range 1 + random.IntN(12) {
			at += Millis(5 + 350*random.Float64())
			e := Echo{At: at, Level: Decibels(-40 * random.Float64()), Inverted: random.IntN(2) == 0}
			want = append(want, e)
			e.At += Millis(4 * random.NormFloat64())
			e.Level += Decibels(random.NormFloat64())
			if random.IntN(5) > 0 {
				got = append(got, e)
			}
		}
		if at > 4000 {
			continue
		}
		// The grid is a twelfth of the narrowest σ: the sum of a Gaussian on it is
		// exact to far below the tolerance.
		require.InDelta(t, byIntegral(want, got), float64(PatternError(want, got)), 1e-6)
	}
}

func TestPatternErrorAtItsEnds(t *testing.T) {
	p := []Echo{{At: 100}, {At: 500, Level: -6}}
	require.Equal(t, LeastError, PatternError(p, p))
	require.InDelta(t, 0, float64(PatternError(p, nil)), 1e-12, "silence is as far off as the pattern is large")
	require.Equal(t, LeastError, PatternError(nil, nil))
	require.Equal(t, -LeastError, PatternError(nil, p))
	inverted := []Echo{{At: 100, Inverted: true}, {At: 500, Level: -6}}
	require.Equal(t, LeastError, PatternError(p, inverted), "amplitudes without sign")
	// One echo twice as loud: (p−q)² = p².
	require.InDelta(t, 0, float64(PatternError([]Echo{{At: 100}}, []Echo{{At: 100, Level: 6.0206}})), 1e-4)
}

func TestTimingJND(t *testing.T) {
	// Friberg & Sundberg, J. Acoust. Soc. Am. 98(5), 1995: 6 ms below about 240 ms, 2.5 % above.
	require.Equal(t, Millis(6), TimingJND(100))
	require.InDelta(t, 6, float64(TimingJND(240)), 1e-9)
	require.InDelta(t, 10, float64(TimingJND(400)), 1e-9)
}
