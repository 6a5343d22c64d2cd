package measure

import (
	"math/rand"
	"testing"

	"github.com/stretchr/testify/require"
)

// Every warning has a take that calls for it and one, as like it as can be, that
// does not.
func TestWarnings(t *testing.T) {
	pair := unit{delays: []float64{101.3, 187.7}, levels: []float64{-2, 0}, feeds: []int{1}, loop: -6}
	singing, driven, near, wavering := pair, pair, pair, pair
	singing.loop = -0.4
	driven.drive, driven.bias = 5, 0.1
	near.delays = []float64{26.4, 150.2}
	wavering.wow[0] = [2]float64{0.002, 1.3}
	long, short := shortNote, shortNote
	long.damp, short.damp = 0.19, 0.02
	soft := shortNote
	soft.peak = 0.02
	cut, clipped, noisy, humming, early := quickTake, quickTake, quickTake, quickTake, quickTake
	cut.seconds = 0.7
	clipped.clip = 0.15
	noisy.noise = -40
	humming.hum, humming.lead = -46, 0.3
	early.lead = 0.02
	for _, c := range []struct {
		name string
		note plucked
		unit unit
		take recording
		says string // "" where nothing is to be said
	}{
		{"nothing amiss", shortNote, pair, quickTake, ""},
		{"clipped", shortNote, pair, clipped, "clipped at"},
		{"clipped from when to when", shortNote, pair, clipped, "at 0.15"},
		{"hum", shortNote, pair, humming, "mains hum of 50.0"},
		{"noise", shortNote, pair, noisy, "noise lies only"},
		{"cut off", shortNote, pair, cut, "before the echoes have died away"},
		{"hardly any lead", shortNote, pair, early, "hardly any quiet"},
		{"a loop that nearly sings", shortNote, singing, quickTake, "the machine sings, or nearly"},
		{"driven hard", shortNote, driven, quickTake, "levels depend on how loud the note is"},
		{"the same machine, hardly driven by a soft note", soft, driven, recording{rate: quickRate, lead: 0.15, seconds: 1.9, noise: -98}, ""},
		{"an echo near the note", short, near, quickTake, "follows the note by only 26.4 ms"},
		{"a note over its first echo", long, pair, quickTake, "hides the first echo, which comes after 101 ms"},
		{"wow", shortNote, wavering, quickTake, "wow of 0.20 %"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			x, _, _ := record(rand.New(rand.NewSource(14)), c.note, c.unit, c.take)
			r, err := Heads(Take{Rate: quickRate, Samples: x}, Options{Heads: []int{1, 2}})
			require.NoError(t, err)
			for _, w := range r.Warnings {
				require.NotEmpty(t, w.Do)
			}
			if c.says == "" {
				require.Empty(t, r.Warnings)
				return
			}
			require.Contains(t, said(r.Warnings), c.says)
		})
	}
}

func TestStretchesOfClipping(t *testing.T) {
	for want, runs := range map[string][]int{
		"":                             nil,
		"0.100 s":                      {100},
		"0.100–0.118 s":                {100, 109, 118},
		"0.100 s and 0.150–0.155 s":    {100, 150, 155},
		"0.100 s, 0.200 s and 0.300 s": {100, 200, 300},
		"0.100 s, 0.200 s, 0.300 s and 2 stretches more": {100, 200, 300, 400, 500},
	} {
		require.Equal(t, want, stretches(runs, 1000))
	}
}
