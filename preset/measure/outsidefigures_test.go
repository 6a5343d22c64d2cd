package measure_test

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/measure"
)

// twoHeads is a truth, and a unit that was measured to it exactly.
func twoHeads() (outsideTake, preset.Unit) {
	direct := -3.0
	take := outsideTake{Name: "two", Class: "wow", Heads: [][3]float64{{100, -4, 1}, {200, 0, -1}}, EchoToDirect: &direct}
	take.Feedback = &struct {
		Head int     `json:"head"`
		Gain float64 `json:"gain_db"`
	}{2, -8}
	take.Motion = []struct {
		Peak float64 `json:"peak_percent"`
		Rate float64 `json:"hz"`
	}{{0.2, 1}}
	return take, preset.Unit{
		Heads: []preset.Head{
			{Head: 1, Delay: 100, DelaySD: 0.01, Level: -4, LevelSD: 0.05},
			{Head: 2, Delay: 200, DelaySD: 0.01, Inverted: true},
		},
		Feedback: &preset.Feedback{Heads: []int{2}, Gain: -8, GainSD: 0.05},
		Direct:   &preset.Direct{EchoToDirect: -3},
		Motion:   &preset.Motion{WowPercent: 0.2, WowHz: 1},
	}
}

// What the bench has to notice, each on a unit that is right but for one thing.
func TestTheBenchSeesEveryMiss(t *testing.T) {
	never := math.Inf(1)
	for _, c := range []struct {
		name  string
		spoil func(*outsideTake, *preset.Unit)
		what  string
		miss  float64 // the worst of that figure
		good  int     // of the six figures; delay and level of head 1, delay and direct of head 2, loop, wow
	}{
		{"nothing", func(*outsideTake, *preset.Unit) {}, "delay", 0, 6},
		{"a late head", func(_ *outsideTake, u *preset.Unit) { u.Heads[0].Delay = 100.5 }, "delay", 0.5, 5},
		{"a quiet head", func(_ *outsideTake, u *preset.Unit) { u.Heads[0].Level = -5 }, "level", 1, 5},
		{"all too quiet", func(_ *outsideTake, u *preset.Unit) { u.Direct.EchoToDirect = -5 }, "direct", 2, 5},
		{"polarity", func(_ *outsideTake, u *preset.Unit) { u.Heads[0].Inverted = true }, "level", never, 5},
		{"polarity of the loudest", func(_ *outsideTake, u *preset.Unit) { u.Heads[1].Inverted = false }, "direct", never, 5},
		{"a weak loop", func(_ *outsideTake, u *preset.Unit) { u.Feedback.Gain = -9 }, "loop", 1, 5},
		{"the loop of another head", func(_ *outsideTake, u *preset.Unit) { u.Feedback.Heads = []int{1} }, "loop", never, 5},
		{"a loop of two heads", func(_ *outsideTake, u *preset.Unit) { u.Feedback.Heads = []int{1, 2} }, "loop", never, 5},
		{"no loop", func(_ *outsideTake, u *preset.Unit) { u.Feedback = nil }, "loop", never, 5},
		{"an invented loop", func(take *outsideTake, _ *preset.Unit) { take.Feedback = nil }, "loop", never, 5},
		{"half of the wow", func(_ *outsideTake, u *preset.Unit) { u.Motion.WowPercent = 0.1 }, "wow", 0.5, 5},
		{"no wow", func(_ *outsideTake, u *preset.Unit) { u.Motion = nil }, "wow", 1, 5},
		{"a head missing", func(_ *outsideTake, u *preset.Unit) { u.Heads = u.Heads[1:] }, "delay", never, 4},
		{"not a number", func(_ *outsideTake, u *preset.Unit) { u.Heads[0].Delay = preset.Millis(math.NaN()) }, "delay", never, 5},
	} {
		take, unit := twoHeads()
		c.spoil(&take, &unit)
		s := newSummary(take.Class)
		s.add(verdict{take: take, figures: compare(take, accuracies[take.Class], unit, true)})
		require.Equal(t, 6, s.figures, c.name)
		require.Equal(t, c.good, s.good, c.name)
		// Equal but for the rounding of the arithmetic; infinities are equal or not.
		require.True(t, c.miss == s.worst[c.what] || math.Abs(c.miss-s.worst[c.what]) < 1e-9, "%s: %s is off by %v, not %v", c.name, c.what, s.worst[c.what], c.miss)
	}
}

func TestWhatWasRefusedIsMissedWhole(t *testing.T) {
	take, unit := twoHeads()
	for _, f := range compare(take, accuracies["wow"], unit, false) {
		require.Equal(t, math.Inf(1), f.miss, f.what)
	}
}

// A refusal has to be one, and to name the reason.
func TestRefusalsAreReadAsSuch(t *testing.T) {
	reasons := []string{"no echo"}
	require.Zero(t, missOfRefusal(fmt.Errorf("take: %w", &measure.Refusal{Reason: measure.NoEcho}), reasons))
	require.Equal(t, math.Inf(1), missOfRefusal(&measure.Refusal{Reason: measure.Silence}, reasons))
	require.Equal(t, math.Inf(1), missOfRefusal(errors.New("no echo"), reasons))
	require.Equal(t, math.Inf(1), missOfRefusal(nil, reasons))
}

// An interval of 95 % reaches 1.96 standard deviations to each side (table of the
// normal distribution): here 0.0196 ms.
func TestIntervalsAreCounted(t *testing.T) {
	for _, c := range []struct {
		delay   preset.Millis
		covered int // of the four figures that come with a standard deviation
	}{{100, 4}, {100.0195, 4}, {99.9805, 4}, {100.0197, 3}, {99.9803, 3}} {
		take, unit := twoHeads()
		unit.Heads[0].Delay = c.delay
		s := newSummary(take.Class)
		s.add(verdict{take: take, figures: compare(take, accuracies["wow"], unit, true)})
		require.Equal(t, 4, s.told)
		require.Equal(t, c.covered, s.covered, "%v", c.delay)
	}
}

func TestTheTableNamesClassAndTake(t *testing.T) {
	take, unit := twoHeads()
	unit.Feedback = nil
	table := outsideTable([]verdict{{take: take, figures: compare(take, accuracies["wow"], unit, true)}})
	require.Contains(t, table, "| wow | 1 | 0.3, 0.5, 0.7; wow within 20 % | 5 of 6 | 83 % | 3 of 3 | 0.0 |\n")
	require.Contains(t, table, "| two |  |  | 2 | 0.0000 | 0.000 | 0.000 | wrong | 0.00 | 5 of 6 | 3 of 3 | 0.0 |\n")
}
