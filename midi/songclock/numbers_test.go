package songclock

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTheNumberOfAClock(t *testing.T) {
	const period = 20.0
	for _, c := range []struct {
		off, sigma float64
		want       int
	}{
		{0, 1, 1}, {9.9, 1, 1}, {-9.9, 1, 1}, // within half a period
		{10.1, 1, 2}, {20, 1, 2}, {40, 1, 3}, {100, 1, 6}, // missing ones
		{-10.1, 1, 0}, {-20, 1, 0}, {-500, 1, 0}, // the last again
		{14, 3, 1}, {-14, 3, 1}, {16, 3, 2}, // 5 · 3 ms of jitter are more than half a period
	} {
		require.Equal(t, c.want, numberOf(c.off, period, c.sigma), "%+v", c)
	}
}

func TestStrays(t *testing.T) {
	for _, c := range []struct {
		off, sigma float64
		want       bool
	}{
		{1.9, 0.01, false}, {2.1, 0.01, true}, {-2.1, 0.01, true}, // a tenth of 20 ms
		{4.9, 1, false}, {-5.1, 1, true}, // 5 σ
	} {
		require.Equal(t, c.want, isStray(c.off, 20, c.sigma), "%+v", c)
	}
}

// The jitter is learnt whatever the tempo, and wild clocks do not spoil it.
func TestTheJitterIsLearnt(t *testing.T) {
	for _, sigma := range []float64{0.05, 0.5, 2, 5} {
		for _, wild := range []int{0, 97} {
			random := rand.New(rand.NewPCG(41, 42))
			var n noise
			sum, count := 0.0, 0
			for i := range 20_000 {
				at := float64(i)*20 + float64(i*i)*1e-5 + sigma*random.NormFloat64() // a tempo that goes slower
				if wild > 0 && i%wild == 0 {
					at += 100
				}
				n.hear(at, true)
				if i > memory {
					sum += n.sigma()
					count++
				}
			}
			mean := sum / float64(count)
			if wild == 0 {
				require.InDelta(t, 1, mean/sigma, 0.02, "σ %v ms", sigma) // the cut at four times the mean takes 0.2 %
			} else {
				// Three amounts of 97 stand at four times the mean m: m = 94/97·σ + 12/97·m, so
				// m = 1.106 σ; they come together, which lifts it a little more.
				require.InDelta(t, 1.106, mean/sigma, 0.09, "σ %v ms, every 97th clock 100 ms late", sigma)
			}
		}
	}
	var n noise
	require.Equal(t, leastSigma, n.sigma())
	for i := range 100 {
		n.hear(float64(i)*20, true)
	}
	require.Equal(t, leastSigma, n.sigma(), "no clock of a computer is better")
}

func TestOnlyClocksInARowTellJitter(t *testing.T) {
	var n noise
	for _, at := range []float64{0, 20, 140} {
		n.hear(at, at != 140)
	}
	require.Zero(t, n.count, "a gap is no jitter")
	n.hear(160, true)
	n.hear(180, true)
	require.Equal(t, 1, n.count)
}

func TestTheMedianOfGaps(t *testing.T) {
	random := rand.New(rand.NewPCG(43, 44))
	var g gaps
	require.Zero(t, g.median())
	var all []float64
	for range 100 {
		v := random.Float64()
		g.add(v)
		all = append(all, v)
		last := slices.Sorted(slices.Values(all[max(0, len(all)-16):]))
		require.InDelta(t, (last[(len(last)-1)/2]+last[len(last)/2])/2, g.median(), 0)
	}
	require.InDelta(t, all[99]+all[98]+all[97], g.sum(3), 1e-12)
}

func TestGapsAndSlipsThatSpeakOfAnotherTempo(t *testing.T) {
	for _, c := range []struct {
		name  string
		gap   float64
		slips []int // steps
		sigma float64
		want  bool
	}{
		{"the same", 20, nil, 1, false},
		{"a little off", 21, nil, 0.1, false},
		{"far off", 22, nil, 0.1, true},
		{"far off, but jitter may do that", 22, nil, 2, false},
		{"and slipped the same way", 23, []int{2}, 2, true},
		{"and slipped the other way", 23, []int{0}, 2, false},
		{"one slip", 20, []int{2}, 1, false},
		{"slip after slip", 20, []int{2, 2, 2}, 1, true},
		{"delayed, then in a heap", 20, []int{4, 0, 0, 0, 2}, 1, false},
		{"twice after twice", 20, []int{0, 0, 0}, 1, true},
		{"slips long ago", 20, append([]int{2, 2}, slices.Repeat([]int{1}, 40)...), 1, false},
	} {
		var g gaps
		for range 16 {
			g.add(c.gap)
		}
		var s slips
		for _, step := range c.slips {
			s.note(step)
		}
		require.Equal(t, c.want, deny(&g, &s, 20, c.sigma), c.name)
	}
}
