package arrange

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// randomNetwork has a few nodes that hear earlier ones and themselves, with signs,
// all on a grid so that much falls together.
func randomNetwork(rng *rand.Rand) preset.Network {
	n := preset.Network{Nodes: 1 + 1 + rng.IntN(4)}
	delay := func() preset.Millis { return 20 * preset.Millis(1+rng.IntN(20)) }
	sign := func() float64 { return 1 - 2*float64(rng.IntN(2)) }
	for to := 1; to < n.Nodes; to++ {
		n.Paths = append(n.Paths, preset.Path{From: rng.IntN(to), To: to, Delay: delay(), Gain: 1})
		for range rng.IntN(3) {
			n.Paths = append(n.Paths, preset.Path{From: to, To: to, Delay: delay(), Gain: sign() * 0.4 * rng.Float64()})
		}
		n.Paths = append(n.Paths, preset.Path{From: to, To: preset.Output, Delay: delay(), Gain: sign() * rng.Float64()})
	}
	return n
}

func TestTheEarGivesThePatternError(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 41))
	for range 60 {
		w := wishOf(t, pattern(t, randomUnit(rng)))
		e := newEar(w)
		n := randomNetwork(rng)
		for _, shift := range []preset.Decibels{0, -0.7} {
			got, err := n.Train(preset.TrainFloor+shift, preset.TrainLimit)
			require.NoError(t, err)
			for i := range got {
				got[i].Level -= shift
			}
			want := preset.PatternError(w.train, above(preset.TrainFloor, got))
			// 0.002 dB: what is followed 12 dB below the floor only, and a cubic between
			// the known places.
			require.InDelta(t, float64(want), 10*math.Log10(e.cost(n, 1/shift.Amplitude())), 0.002)
		}
	}
}

func TestTheEarHearsSmallErrors(t *testing.T) {
	// Half a dB less of everything: 20·log10(1 − 10^(−1/40)) = −25.1 dB, and a tenth of
	// a dB: −38.8 dB; −120 dB for the wish itself is lost in the interpolation from −65 on.
	w := wishOf(t, pattern(t, tradeUnit()))
	e := newEar(w)
	for _, off := range []preset.Decibels{-0.5, -0.1, -0.02} {
		n := w.pattern.Network()
		want := 20 * math.Log10(1-off.Amplitude())
		require.InDelta(t, want, 10*math.Log10(e.cost(n, off.Amplitude())), 0.1, "%v", off)
	}
	require.Less(t, e.cost(w.pattern.Network(), 1), 1e-6)
}

func TestTheSumsOfAnEarGiveItsCost(t *testing.T) {
	// Without signs, the cost is quadratic in the levels of the paths to the output.
	rng := rand.New(rand.NewPCG(59, 26))
	for range 40 {
		w := wishOf(t, pattern(t, randomUnit(rng)))
		e := newEar(w)
		n := randomNetwork(rng)
		var levels, gains []float64
		var chosen []int
		for i := range n.Paths {
			p := &n.Paths[i]
			if p.Gain = math.Abs(p.Gain); p.To == preset.Output {
				p.Gain = math.Max(p.Gain, 0.1)
				chosen = append(chosen, len(levels))
				levels = append(levels, p.Gain)
				gains = append(gains, p.Gain)
			}
		}
		x, ok := e.sums(n, gains)
		require.True(t, ok)
		// Echoes below the floor are in the sums, not in the cost.
		require.InDelta(t, e.cost(n, 1), x.cost(chosen, levels), 1e-3)
	}
}

func TestTheEarGivesUpOnTooMuch(t *testing.T) {
	w := wishOf(t, pattern(t, tradeUnit()))
	e := newEar(w)
	n := preset.Network{Nodes: 1, Paths: []preset.Path{
		{From: 0, To: 0, Delay: 0.011, Gain: 0.9999}, {From: 0, To: preset.Output, Gain: 1},
	}}
	require.True(t, math.IsInf(e.cost(n, 1), 1))
	_, ok := e.sums(n, []float64{1})
	require.False(t, ok)
}

func BenchmarkEar(b *testing.B) {
	w := wishOf(b, pattern(b, tradeUnit()))
	e := newEar(w)
	n := w.pattern.Network()
	b.Run("cost", func(b *testing.B) {
		for b.Loop() {
			e.cost(n, 1)
		}
	})
	b.Run("the same from lists", func(b *testing.B) {
		for b.Loop() {
			got, err := n.Train(preset.TrainFloor, preset.TrainLimit)
			require.NoError(b, err)
			preset.PatternError(w.train, got)
		}
	})
}
