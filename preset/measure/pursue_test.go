package measure

import (
	"math"
	"math/rand"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestInOrderTheLoopStaysWithItsHead(t *testing.T) {
	for _, c := range []struct {
		name        string
		at          []float64
		feeds, want []int
	}{
		{"in order", []float64{0.1, 0.2, 0.3}, []int{1}, []int{1}},
		{"the feeding head moves to the front", []float64{0.2, 0.3, 0.1}, []int{2}, []int{0}},
		{"another passes it", []float64{0.2, 0.3, 0.1}, []int{0}, []int{1}},
		{"two feed", []float64{0.3, 0.1, 0.2}, []int{0, 2}, []int{1, 2}},
		{"none", []float64{0.2, 0.1}, nil, nil},
	} {
		h := hypothesis{feeds: c.feeds}
		for _, at := range c.at {
			h.heads = append(h.heads, arrival{at: at})
		}
		given := slices.Clone(c.feeds)
		h.inOrder()
		require.True(t, slices.IsSortedFunc(h.heads, func(a, b arrival) int { return compareFloat(a.at, b.at) }), c.name)
		require.ElementsMatch(t, c.want, h.feeds, c.name)
		require.Equal(t, given, c.feeds, "%s: the feeds that were given stay as they are", c.name)
	}
}

func TestAPlaceIsOccupiedNearAHead(t *testing.T) {
	delays := []float64{0.1, 0.25}
	for at, want := range map[float64]bool{0.1: true, 0.1 + 0.9*crowded: true, 0.25 - 0.9*crowded: true, 0.1 + 1.1*crowded: false, 0.18: false} {
		require.Equal(t, want, occupied(delays, at), "%v s", at)
	}
}

// pair is a still sound of two heads, and a bench of it.
func pair(t *testing.T) (unit, bench) {
	t.Helper()
	u := unit{delays: []float64{97, 171}, levels: []float64{0, -3}, feeds: []int{1}, loop: -9, tone: dullTone()}
	x, _, _ := record(rand.New(rand.NewSource(3)), shortNote, u, quickTake)
	s, err := lookOver(Take{Rate: quickRate, Samples: x})
	require.NoError(t, err)
	full := excerpt(s.x, quickRate, s.notes[0].at, s.notes[0].end, s.noise)
	return u, newBench(full, full.thinned(halfRate, full.rate))
}

// An echo that a fit knows nothing of is found in what it leaves, within the width
// of the band it is looked for in (half a period of 1,450 Hz: 0.35 ms).
func TestAnOverlookedHeadIsFoundInWhatIsLeft(t *testing.T) {
	u, b := pair(t)
	m := machine{delay: []float64{u.delays[0] / 1000}, gain: []float64{1}}
	f := b.low.bestLength(m, free{tone: true}, rough)
	missing := f.overlooked(f.machine.delay)
	require.InDelta(t, u.delays[1], 1000*missing.at, 0.35)
	require.Greater(t, math.Abs(missing.amp), faintest)
}

// A start with a wrong second head is led to the right one.
func TestAWrongStartIsPursuedToTheRightOne(t *testing.T) {
	u, b := pair(t)
	h := hear(b.half)
	g := h.starts(2)[0]
	g.heads = []arrival{g.heads[0], {at: 0.23, amp: 0.05}}
	g.feeds, g.loop = nil, 0
	a := b.pursue(g, b.try(g, b.attacks(g)), h.rumours())
	require.True(t, a.good())
	for k, d := range a.take.machine.delay {
		require.InDelta(t, u.delays[k], 1000*d, 0.05, "the accuracy wanted of a plain take")
	}
	require.Equal(t, []int{1}, a.take.machine.feeds)
}

// Beside what a fit came to stand all other loops, and no head within another.
func TestChangesAreOneStepAway(t *testing.T) {
	_, b := pair(t)
	g := hear(b.half).starts(2)[0]
	w := b.attacks(g)
	changes := w.changes(g, nil)
	require.LessOrEqual(t, len(changes), mostChanges)
	var loops [][]int
	for _, c := range changes {
		require.False(t, slices.Equal(c.feeds, g.feeds) && c.sameHeads(g.asIn(w).hypothesis), "nothing was changed")
		require.GreaterOrEqual(t, c.heads[1].at-c.heads[0].at, crowded)
		loops = append(loops, c.feeds)
	}
	for _, want := range waysToFeed(2) {
		require.True(t, slices.Equal(want, g.feeds) || slices.ContainsFunc(loops, func(l []int) bool { return slices.Equal(l, want) }), "%v", want)
	}
}
