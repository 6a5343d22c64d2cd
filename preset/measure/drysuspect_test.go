package measure

import (
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/require"
)

// A unit and its takes, for what may be wrong with two channels.
var suspected = simulated{delays: []float64{101.37, 203.72}, levels: []float64{-4, 0}, feeds: []int{1}, loop: []float64{0.45}, tone: cutsAt(70, 4000)}

func summed(x, y []float64, gain float64) []float64 {
	sum := make([]float64, len(x))
	for i := range x {
		sum[i] = x[i] + gain*y[i]
	}
	return sum
}

func clippedAt(x []float64, top float64) []float64 {
	y := make([]float64, len(x))
	for i, v := range x {
		y[i] = math.Max(-top, math.Min(top, v))
	}
	return y
}

func TestWhatIsInTheWrongChannelIsRefused(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewSource(2))
	x, other := playing(rng, dryRate, 4, 4), playing(rng, dryRate, 4, 4)
	steady := suspected
	steady.feeds, steady.loop = nil, nil
	one := simulated{delays: []float64{101.37}, levels: []float64{-4}, tone: cutsAt(70, 4000)}
	wet, plain := suspected.wet(x, dryRate), steady.wet(x, dryRate)
	for _, c := range []struct {
		name     string
		dry, wet []float64
		heads    int
		reason   Reason
		words    string
	}{
		{"channels exchanged", wet, x, 2, WrongChannel, "exchanged"},
		{"channels exchanged, no loop", plain, x, 2, WrongChannel, "exchanged"},
		{"channels exchanged, one head", one.wet(x, dryRate), x, 1, WrongChannel, "exchanged"},
		// 0.7 of the machine is 20·log 0.7 = −3.1 dB.
		{"the machine in both channels", summed(x, plain, 0.7), plain, 2, WrongChannel, "3 dB below"},
		{"another phrase", other, wet, 2, OtherTake, "one take"},
		{"a head too many", x, wet, 3, FewerEchoes, "no more than 2"},
		{"a head too few", x, wet, 1, MoreEchoes, "204 ms"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Heads(Take{Rate: dryRate, Dry: hissed(rng, c.dry, -70), Samples: hissed(rng, c.wet, -70)}, Options{Heads: numbered(c.heads)})
			var refusal *Refusal
			require.ErrorAs(t, err, &refusal)
			require.Equal(t, c.reason, refusal.Reason, refusal.Error())
			require.Contains(t, refusal.Error(), c.words)
		})
	}
}

func TestWhatIsDoubtfulIsSaid(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewSource(2))
	x := playing(rng, dryRate, 4, 4)
	wet := suspected.wet(x, dryRate)
	elsewhere := simulated{delays: []float64{157}, levels: []float64{-6}, tone: flat}
	const softly = -70
	for _, c := range []struct {
		name     string
		dry, wet []float64
		hiss     float64 // dBFS
		clips    bool
		words    []string
	}{
		{"nothing wrong", x, wet, softly, false, nil},
		{"clipped wet", hissed(rng, x, softly), clippedAt(hissed(rng, wet, softly), 0.5*peakOf(wet)), 0, true, []string{"wet channel is clipped", " s,"}},
		{"clipped dry", clippedAt(hissed(rng, x, softly), 0.5*peakOf(x)), hissed(rng, wet, softly), 0, true, []string{"dry channel is clipped", " s,"}},
		{"noise", x, wet, -30, false, []string{"noise of the wet channel"}},
		{"the end cut off", x[:35_000], wet[:35_000], softly, false, []string{"died away"}},
		{"the machine in the dry channel too", summed(x, wet, 0.7), wet, softly, false, []string{"dry channel holds the machine's echoes too"}},
		{"another delay in the dry channel", summed(x, elsewhere.wet(x, dryRate), 1), wet, softly, false, []string{"is left of the wet channel"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			dry, machine := hissed(rng, c.dry, c.hiss), hissed(rng, c.wet, c.hiss)
			if c.clips { // flat tops stay flat
				dry, machine = c.dry, c.wet
			}
			r := measuredPair(t, dry, machine, dryRate, []int{1, 2})
			for _, words := range c.words {
				require.True(t, warned(r, words), "%q in %v", words, r.Warnings)
			}
			if c.words == nil {
				require.Empty(t, r.Warnings)
			}
			// Whatever is wrong, the truth lies within three deviations.
			for k, h := range suspected.truth().Heads {
				g := r.Unit.Heads[k]
				require.InDelta(t, float64(h.Delay), float64(g.Delay), 3*float64(g.DelaySD), "delay of head %d", k+1)
				require.InDelta(t, float64(h.Level), float64(g.Level), 3*float64(g.LevelSD), "level of head %d", k+1)
			}
		})
	}
}
