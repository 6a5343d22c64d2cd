package measure

import (
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

const quickRate = 24000

// shortNote is damped after 70 ms and over after 120.
var shortNote = plucked{pitch: 196, bright: 1, ring: 0.3, damp: 0.07, scratch: 0.2, peak: 0.4}

var quickTake = recording{rate: quickRate, lead: 0.15, seconds: 1.9, noise: -72}

func dullTone() []biquad {
	return []biquad{highPass1(80, quickRate*over), lowPass1(3200, quickRate*over)}
}

// The limits are a fifth of what the project asks of the kind of take, so that a
// step backwards shows before it hurts.
func TestHeadsOfSimulatedMachines(t *testing.T) {
	three := unit{delays: []float64{101.3, 187.7, 286.2}, levels: []float64{-6, 0, -3}, feeds: []int{2}, loop: -8, tone: dullTone()}
	with := func(change func(*unit)) unit {
		u := three
		change(&u)
		return u
	}
	for _, c := range []struct {
		name                string
		note                plucked
		unit                unit
		take                recording
		delay, level, loops float64 // ms, dB, dB
	}{
		{"three heads, the last feeds the loop", shortNote, three, quickTake, 0.02, 0.03, 0.04},
		{"no tone at all", shortNote, with(func(u *unit) { u.tone = nil }), quickTake, 0.01, 0.03, 0.04},
		{"the first head feeds the loop", shortNote, with(func(u *unit) { u.feeds = []int{0} }), quickTake, 0.02, 0.03, 0.04},
		{"all heads feed the loop", shortNote, with(func(u *unit) { u.feeds, u.loop = []int{0, 1, 2}, -12 }), quickTake, 0.02, 0.03, 0.04},
		{"no loop", shortNote, with(func(u *unit) { u.feeds = nil }), quickTake, 0.02, 0.03, 0.04},
		{"an inverted head", shortNote, with(func(u *unit) { u.invert = []bool{false, true, false} }), quickTake, 0.02, 0.03, 0.04},
		{
			"echoes that overlap each other and the note", plucked{pitch: 147, bright: 1, ring: 0.4, damp: 0.2, scratch: 0.2, peak: 0.4},
			unit{delays: []float64{51, 102.5, 149.2, 203.1}, levels: []float64{-4, -2, 0, -3}, feeds: []int{3}, loop: -9, tone: dullTone()},
			quickTake, 0.04, 0.1, 0.1,
		},
		{"a driven record path", shortNote, with(func(u *unit) { u.drive, u.bias = 4, 0.2 }), quickTake, 0.06, 0.2, 0.2},
		{"hum", shortNote, three, recording{rate: quickRate, lead: 0.3, seconds: 1.9, noise: -72, hum: -50}, 0.06, 0.1, 0.14},
		{
			"a note that rings on", plucked{pitch: 196, bright: 1, ring: 0.5, scratch: 0.2, peak: 0.4}, three, quickTake, 0.2, 0.3, 0.4,
		},
		{
			"wow", shortNote, with(func(u *unit) { u.wow[0] = [2]float64{0.002, 1.3} }), quickTake, 0.06, 0.1, 0.2,
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			x, _, _ := record(rand.New(rand.NewSource(1)), c.note, c.unit, c.take)
			heads := allHeads[:len(c.unit.delays)]
			r, err := Heads(Take{Rate: quickRate, Samples: x}, Options{Heads: heads})
			require.NoError(t, err)
			m := missOf(r.Unit, c.unit.truth(heads, quickRate))
			require.LessOrEqual(t, m.delay, c.delay, "delay, ms")
			require.LessOrEqual(t, m.level, c.level, "level, dB")
			require.LessOrEqual(t, m.loop, c.loops, "loop, dB")
			require.LessOrEqual(t, m.direct, 2*c.level, "to direct, dB")
			named := r.Unit
			named.Name, named.Kind = "simulated", preset.Other
			require.NoError(t, named.Validate())
			require.NotEmpty(t, r.Echoes)
		})
	}
}

func TestWowIsToldWithinAFifth(t *testing.T) {
	t.Parallel()
	u := unit{delays: []float64{101.3, 187.7}, levels: []float64{-2, 0}, feeds: []int{1}, loop: -6, tone: dullTone()}
	u.wow[0] = [2]float64{0.002, 1.3}
	x, _, _ := record(rand.New(rand.NewSource(3)), shortNote, u, quickTake)
	r, err := Heads(Take{Rate: quickRate, Samples: x}, Options{Heads: []int{1, 2}})
	require.NoError(t, err)
	require.NotNil(t, r.Unit.Motion)
	require.InEpsilon(t, 0.2, float64(r.Unit.Motion.WowPercent), 0.2)
	require.InDelta(t, 1.3, float64(r.Unit.Motion.WowHz), 0.1, "a take of two seconds tells a rate to a tenth of a hertz or so")
	require.Zero(t, r.Unit.Motion.FlutterHz)
}

func TestStillMachineHasNoMotionAndNoDrive(t *testing.T) {
	t.Parallel()
	u := unit{delays: []float64{101.3, 187.7}, levels: []float64{-2, 0}, feeds: []int{1}, loop: -6, tone: dullTone()}
	x, _, _ := record(rand.New(rand.NewSource(4)), shortNote, u, quickTake)
	r, err := Heads(Take{Rate: quickRate, Samples: x}, Options{Heads: []int{1, 2}})
	require.NoError(t, err)
	require.Nil(t, r.Unit.Motion)
	require.Nil(t, r.Unit.Drive)
	require.Empty(t, r.Warnings)
}

func TestNotesArePooled(t *testing.T) {
	t.Parallel()
	u := unit{delays: []float64{80, 131}, levels: []float64{-2, 0}, feeds: []int{1}, loop: -12, tone: dullTone()}
	take := recording{rate: quickRate, lead: 0.15, seconds: 4.2, noise: -66, plucks: 3, every: 1.35}
	x, _, _ := record(rand.New(rand.NewSource(5)), shortNote, u, take)
	r, err := Heads(Take{Rate: quickRate, Samples: x}, Options{Heads: []int{3, 5}})
	require.NoError(t, err)
	require.Len(t, r.Notes, 3)
	for i, at := range []float64{150, 1500, 2850} {
		require.InDelta(t, at, float64(r.Onsets[i]), 3, "an onset is found within the first milliseconds of the attack")
	}
	m := missOf(r.Unit, u.truth([]int{3, 5}, quickRate))
	require.Less(t, m.delay, 0.02)
	require.Less(t, m.level, 0.03)
	require.Less(t, m.loop, 0.05)
}

func TestHeadsAreCountedWhereNoneAreNamed(t *testing.T) {
	t.Parallel()
	u := unit{delays: []float64{101.3, 187.7, 286.2}, levels: []float64{-6, 0, -3}, feeds: []int{2}, loop: -8, tone: dullTone()}
	x, _, _ := record(rand.New(rand.NewSource(6)), shortNote, u, quickTake)
	r, err := Heads(Take{Rate: quickRate, Samples: x}, Options{})
	require.NoError(t, err)
	require.Equal(t, []int{1, 2, 3}, r.Unit.HeadNumbers())
	require.Contains(t, r.Warnings[len(r.Warnings)-1].What, "3 heads were found")
}

func TestSameTakeSameFigures(t *testing.T) {
	t.Parallel()
	u := unit{delays: []float64{90, 160}, levels: []float64{-2, 0}, feeds: []int{1}, loop: -9}
	x, _, _ := record(rand.New(rand.NewSource(7)), shortNote, u, quickTake)
	one, err := Heads(Take{Rate: quickRate, Samples: x}, Options{Heads: []int{1, 2}})
	require.NoError(t, err)
	two, err := Heads(Take{Rate: quickRate, Samples: x}, Options{Heads: []int{1, 2}})
	require.NoError(t, err)
	require.Equal(t, one.Unit, two.Unit)
	require.Equal(t, one.Echoes, two.Echoes)
}

func TestProgressRisesToOne(t *testing.T) {
	t.Parallel()
	u := unit{delays: []float64{90}, levels: []float64{-2}}
	x, _, _ := record(rand.New(rand.NewSource(8)), shortNote, u, quickTake)
	last := 0.0
	_, err := Heads(Take{Rate: quickRate, Samples: x}, Options{Heads: []int{1}, Progress: func(done float64) {
		require.GreaterOrEqual(t, done, last)
		last = done
	}})
	require.NoError(t, err)
	require.Equal(t, 1.0, last)
}

func TestLeftOverIsTheNoteAndThenNoise(t *testing.T) {
	t.Parallel()
	u := unit{delays: []float64{150, 290}, levels: []float64{-2, 0}, feeds: []int{1}, loop: -6}
	x, _, _ := record(rand.New(rand.NewSource(9)), shortNote, u, quickTake)
	r, err := Heads(Take{Rate: quickRate, Samples: x}, Options{Heads: []int{1, 2}})
	require.NoError(t, err)
	at := func(ms float64) float64 { return float64(r.Left[int(ms/float64(r.LeftStep))]) }
	require.True(t, math.IsNaN(at(0)))
	require.Greater(t, at(170), -35.0, "the attack")
	for ms := 310.0; ms < 900; ms += 10 {
		require.InDelta(t, -67, at(ms), 7, "noise of −72 dBFS and what the noise within the note leaves of itself, 30 dB and more below the echoes, at %v ms", ms)
	}
}
