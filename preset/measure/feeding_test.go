package measure

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// A head at 150 ms repeats at 300. Heads at 100 and 200 ms repeat at 200, 300 and
// 400 if the first feeds the loop, at 300 and 400 if the second does: up to 370 ms
// both come to the same. An echo of −22 dBFS stands 20 dB above a noise of −42.
func TestLoopsThatCannotBeToldAreDoubted(t *testing.T) {
	one := unit{delays: []float64{150}, levels: []float64{-2}, tone: dullTone()}
	two := unit{delays: []float64{100, 200}, levels: []float64{0, -3}, feeds: []int{1}, loop: -9}
	short, noisy, twoTurns := quickTake, quickTake, quickTake
	twoTurns.seconds = twoTurns.lead + 0.37
	short.seconds = short.lead + 0.29
	noisy.noise = -42
	soft := one
	soft.levels = []float64{-15}
	for _, c := range []struct {
		name  string
		unit  unit
		take  recording
		heads int
		says  string
	}{
		{"the take ends before a repeat", one, short, 1, "whether there is a loop cannot be told: 29"},
		{"noise hides the repeats", soft, noisy, 1, "whether there is a loop cannot be told: the loudest echo"},
		{"each head may feed it", two, twoTurns, 2, "which heads feed the loop cannot be told for sure"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r, err := Heads(recorded(60, c.unit, c.take), Options{Heads: allHeads[:c.heads]})
			require.NoError(t, err)
			require.Contains(t, said(r.Warnings), c.says)
		})
	}
}

func TestLoopsThatAreToldAreNotDoubted(t *testing.T) {
	none, all := threeHeads, threeHeads
	none.feeds = nil
	all.feeds, all.loop = []int{0, 1, 2}, -12
	for _, c := range []struct {
		name string
		unit unit
	}{{"the last head feeds it", threeHeads}, {"no loop", none}, {"all heads feed it", all}} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r, err := Heads(recorded(61, c.unit, quickTake), Options{Heads: []int{1, 2, 3}})
			require.NoError(t, err)
			require.NotContains(t, said(r.Warnings), "loop")
		})
	}
}

func TestFeedersAreNamed(t *testing.T) {
	numbers := []int{2, unnamed, 6}
	for want, feeds := range map[string][]int{
		"no loop":                   nil,
		"head 2":                    {0},
		"a head that was not named": {1},
		"heads 2 and 6 together":    {0, 2},
		"all heads together":        {0, 1, 2},
	} {
		require.Equal(t, want, fedBy(feeds, numbers))
	}
}
