package arrange

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/profiles"
)

func shipped(t testing.TB, name string) *profiles.Device {
	d, err := profiles.Shipped(name)
	require.NoError(t, err)
	return d
}

// One memory with taps and a loop from one of them is what the unit is itself.
func TestTapsOnOneMemoryAreTheUnit(t *testing.T) {
	d := shipped(t, "tap-loop")
	r := arranged(t, pattern(t, tradeUnit()), d)
	require.Len(t, r.Echoes, 3+7+8+8, "as on five lines")
	late, off := worst(t, r)
	// Steps of 0.125 ms, and 0.0625 ms a turn that adds up over eight of them; levels in
	// steps of 0.38 dB, feedback in hundredths: half of 0.08 dB a turn.
	require.LessOrEqual(t, late, preset.Millis(0.6))
	require.LessOrEqual(t, off, preset.Decibels(0.8))
	require.Empty(t, r.Extra)
	require.Less(t, r.Error, preset.Decibels(-40))
}

// Rounding is not mended with taps that play nothing of the unit.
func TestUnusedTapsAreSilent(t *testing.T) {
	tone := func(h preset.Head) preset.Head { h.HighCutHz = 3200; return h }
	u := unit(-8.1, []int{3}, tone(preset.Head{Delay: 118.42, Level: -6.8}), preset.Head{Delay: 237, Inverted: true}, preset.Head{Delay: 355.25, Level: -7})
	for _, name := range []string{"tap-loop", "two-by-three"} {
		d := shipped(t, name)
		r := arranged(t, pattern(t, u), d)
		require.Zero(t, missing(r), name)
		heard := 0
		for _, l := range d.Lines {
			for _, one := range l.Taps {
				if d.Heard(l, one, r.Setting) != 0 {
					heard++
				}
			}
		}
		require.Equal(t, 3, heard, name)
	}
}

// All heads in the loop, in proportion to their levels, is what the sum feeds back.
func TestALoopFromTheSumIsALoopFromAllHeads(t *testing.T) {
	u := tradeUnit()
	u.Feedback = &preset.Feedback{Heads: []int{1, 2, 3}, Gain: -12}
	r := arranged(t, pattern(t, u), shipped(t, "open-parameter"))
	require.Zero(t, missing(r))
	require.Less(t, r.Error, preset.Decibels(-60))
}

func TestRandomUnitsOnAllDevices(t *testing.T) {
	for _, name := range profiles.Names() {
		t.Run(name, func(t *testing.T) {
			d := shipped(t, name)
			rng := rand.New(rand.NewPCG(6, 28))
			for n := range 20 {
				u := randomUnit(rng)
				p := pattern(t, u)
				r := arranged(t, p, d)
				require.LessOrEqual(t, r.Error, preset.Decibels(0), "unit %d: no worse than silence", n)
				requireLoopsWithin(t, d, p, r, n)
				require.Equal(t, r, arranged(t, p, d), "unit %d: the same pattern gives the same setting", n)
			}
		})
	}
}

// requireLoopsWithin: all ways round any memory together are no stronger than the
// pattern's together, and no feedback code is at unity or above.
func requireLoopsWithin(t *testing.T, d *profiles.Device, p preset.Pattern, r Result, n int) {
	t.Helper()
	limit := 0.0
	for _, back := range p.Returns {
		limit += back.Gain.Amplitude()
	}
	flow, err := d.Network(r.Setting)
	require.NoError(t, err)
	sums := make([]float64, flow.Nodes)
	for _, path := range flow.Paths {
		if path.From == path.To {
			sums[path.From] += max(path.Gain, -path.Gain)
		}
	}
	for _, sum := range sums {
		require.LessOrEqual(t, sum, limit*(1+1e-9), "unit %d", n)
		require.Less(t, sum, 1.0, "unit %d", n)
	}
	for i, param := range d.Parameters {
		if param.Role == profiles.RoleFeedback {
			require.Less(t, param.Scale.Amplitude(r.Setting.Codes[i]), 1.0, "unit %d: %s", n, param.Name)
		}
	}
}

// Times of two-by-three are shares of 100 % of up to 1999 ms: what is said to be out
// of reach is so in milliseconds.
func TestSharesAreNotTakenForMilliseconds(t *testing.T) {
	d := shipped(t, "two-by-three")
	for _, w := range arranged(t, pattern(t, tradeUnit()), d).Warnings {
		require.NotContains(t, w, "longest")
	}
	far := unit(0, nil, preset.Head{Delay: 500}, preset.Head{Delay: 2500, Level: -3})
	require.Contains(t, arranged(t, pattern(t, far), d).Warnings, "head 2 (2500 ms) lies beyond the longest tap (1999 ms): nothing reaches it")
}
