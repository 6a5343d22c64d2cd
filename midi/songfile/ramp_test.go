package songfile

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// Friberg & Sundberg (J. Acoust. Soc. Am. 98(5), 1995): a listener notices 6 ms,
// or 2.5 % above 240 ms.
func audible(delay preset.Millis) float64 { return math.Max(0.006/delay.Seconds(), 0.025) }

// The time of a place in a ramp from a to b beats a minute over n beats, by
// integrating 60/(a + (b−a)·x/n): 60·n/(b−a) · ln(tempo there / a).
func rampTime(r Ramp, division int, tick Tick) float64 {
	n := float64(r.Length) / float64(division)
	slope := float64(r.To-r.From) / n
	there := float64(r.From) + slope*float64(tick-r.At)/float64(division)
	return 60 / slope * math.Log(there/float64(r.From))
}

func TestStepsOfARampAreNotHeardAndKeepItsTime(t *testing.T) {
	const division = 480
	for _, c := range []struct {
		name  string
		ramp  Ramp
		delay preset.Millis
		steps int // ln(to/from)/ln(1 + audible), rounded up, and the end
	}{
		{"from 100 to 140 in 8 bars, 375 ms: ln 1.4/ln 1.025 = 13.6", Ramp{0, 32 * division, 100, 140}, 375, 15},
		{"and back", Ramp{960, 32 * division, 140, 100}, 375, 15},
		{"100 ms: a step may be 6 %: 5.8", Ramp{0, 32 * division, 100, 140}, 100, 7},
		{"5 ms: all at once", Ramp{0, 32 * division, 100, 140}, 5, 2},
		{"a bar", Ramp{0, 4 * division, 60, 200}, 1000, 50},
		{"a little", Ramp{0, 4 * division, 120, 120.5}, 1000, 2},
		{"as far as tempi go: ln 100/ln 1.025 = 186.5", Ramp{0, 400 * division, 10, 1000}, 1000, 188},
	} {
		t.Run(c.name, func(t *testing.T) {
			steps, err := c.ramp.Steps(c.delay)
			require.NoError(t, err)
			require.Len(t, steps, c.steps)
			require.Equal(t, c.ramp.At, steps[0].At)
			end, err := TempoOf(c.ramp.To)
			require.NoError(t, err)
			require.Equal(t, TempoChange{c.ramp.At + c.ramp.Length, end}, steps[len(steps)-1])

			requireUnheard(t, c.ramp, steps, c.delay)
			requireOnTime(t, c.ramp, steps, division)
		})
	}
}

func requireUnheard(t *testing.T, r Ramp, steps []TempoChange, delay preset.Millis) {
	t.Helper()
	before, err := TempoOf(r.From)
	require.NoError(t, err)
	for _, s := range steps {
		change := math.Abs(float64(s.Tempo-before)) / float64(before)
		require.LessOrEqual(t, change, audible(delay), "at tick %d", s.At)
		before = s.Tempo
	}
}

// The steps begin at whole ticks: half a tick times the difference of two tempi at
// each of them is what time they may lose, and half a microsecond a beat.
func requireOnTime(t *testing.T, r Ramp, steps []TempoChange, division int) {
	t.Helper()
	m := mapOf(t, division, steps, nil)
	lost := 0.0
	for i, s := range steps {
		if i > 0 {
			lost += 0.5 * math.Abs(float64(s.Tempo-steps[i-1].Tempo)) / float64(division)
			lost += 0.5 * float64(s.At-steps[i-1].At) / float64(division)
		}
		got := float64(m.TimeAt(s.At) - m.TimeAt(r.At))
		// Where a step begins is rounded itself, worth half a tick against the ramp.
		require.InDelta(t, 1e6*rampTime(r, division, s.At), got, 1+lost, "at tick %d", s.At)
	}
}

func TestRandomRamps(t *testing.T) {
	r := rand.New(rand.NewPCG(55, 89))
	for range 200 {
		ramp := Ramp{Tick(r.IntN(5000)), Tick(200_000 + r.IntN(100_000)), preset.BPM(10 + 990*r.Float64()), preset.BPM(10 + 990*r.Float64())}
		delay := preset.Millis(20 + 2000*r.Float64())
		steps, err := ramp.Steps(delay)
		require.NoError(t, err)
		requireUnheard(t, ramp, steps, delay)
		requireOnTime(t, ramp, steps, 960)
	}
}

func TestALevelRampIsOneTempo(t *testing.T) {
	steps, err := Ramp{96, 384, 120, 120}.Steps(500)
	require.NoError(t, err)
	require.Equal(t, []TempoChange{{96, 500_000}}, steps)
}

func TestRampsThatCannotBe(t *testing.T) {
	for _, c := range []struct {
		ramp  Ramp
		delay preset.Millis
		want  string
	}{
		{Ramp{0, 96, 0, 120}, 500, "tempo ramp at tick 0: tempo 0: must lie from 10 to 1000 beats a minute"},
		{Ramp{0, 96, 120, 1e9}, 500, "tempo ramp at tick 0: tempo 1e+09: must lie from 10 to 1000 beats a minute"},
		{Ramp{0, 0, 100, 120}, 500, "tempo ramp at tick 0: 0 ticks long: wanted 1 or more, and an end at 137438953472 or before"},
		{Ramp{MaxTick, 1, 100, 120}, 500, "tempo ramp at tick 137438953472: 1 ticks long: wanted 1 or more, and an end at 137438953472 or before"},
		{Ramp{-1, 96, 100, 120}, 500, "tempo ramp at tick -1: 96 ticks long: wanted 1 or more, and an end at 137438953472 or before"},
		{Ramp{0, 96, 100, 120}, 0, "tempo ramp at tick 0: delay of 0 ms: wanted more than 0 ms"},
		{Ramp{0, 96, 100, 120}, preset.Millis(math.NaN()), "tempo ramp at tick 0: delay of NaN ms: wanted more than 0 ms"},
		{Ramp{0, 96, 100, 120}, preset.Millis(math.Inf(1)), "tempo ramp at tick 0: delay of +Inf ms: wanted more than 0 ms"},
		{Ramp{0, 5, 100, 140}, 500, "tempo ramp at tick 0: 5 ticks are too few for the 14 steps from 100 BPM to 140 BPM: make it longer, or the ticks finer"},
	} {
		_, err := c.ramp.Steps(c.delay)
		require.EqualError(t, err, c.want)
	}
}
