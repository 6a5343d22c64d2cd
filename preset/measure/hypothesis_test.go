package measure

import (
	"cmp"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// arrivalsOf are the loudest arrivals that heads with a loop make; what falls
// together is one.
func arrivalsOf(heads []arrival, feeds []int, loop float64) []arrival {
	h := hypothesis{heads: heads, feeds: feeds, loop: loop}
	var all []arrival
	for _, a := range h.train(h.machine().shares(), 3) {
		if k := slices.IndexFunc(all, func(b arrival) bool { return math.Abs(a.at-b.at) < 1e-6 }); k >= 0 {
			all[k].amp += a.amp
		} else {
			all = append(all, arrival{at: a.at, amp: a.amp})
		}
	}
	all = slices.DeleteFunc(all, func(a arrival) bool { return math.Abs(a.amp) < faintest })
	slices.SortFunc(all, func(a, b arrival) int { return cmp.Compare(math.Abs(b.amp), math.Abs(a.amp)) })
	return all[:min(len(all), mostArrivals)]
}

func TestHypothesesTellHeadsFromRepeats(t *testing.T) {
	three := []arrival{{at: 0.121, amp: 0.45}, {at: 0.263, amp: 1}, {at: 0.405, amp: 0.8}}
	inverted := []arrival{{at: 0.1, amp: 0.6}, {at: 0.17, amp: -0.9}}
	for _, c := range []struct {
		name  string
		heads []arrival
		feeds []int
		loop  float64
	}{
		{"the last feeds", three, []int{2}, 0.45},
		{"the first feeds", three, []int{0}, 0.45},
		{"all feed", three, []int{0, 1, 2}, 0.3},
		{"none feeds", three, nil, 0},
		{"an inverted head feeds", inverted, []int{1}, 0.5},
		{"one head", three[:1], []int{0}, 0.6},
		{
			"a head where a repeat falls", []arrival{{at: 0.1, amp: 0.8}, {at: 0.15, amp: 1}, {at: 0.25, amp: 0.5}},
			[]int{0}, 0.4,
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			found := arrivalsOf(append([]arrival(nil), c.heads...), c.feeds, c.loop)
			best := hypotheses(found, len(c.heads), 1, 3)[0]
			require.Equal(t, c.feeds, best.feeds)
			require.InDelta(t, c.loop, best.loop, 0.02)
			for k, h := range c.heads {
				require.InDelta(t, h.at, best.heads[k].at, 1e-9)
			}
		})
	}
}

func TestFewerArrivalsThanHeadsGiveNoHypothesis(t *testing.T) {
	require.Empty(t, hypotheses([]arrival{{at: 0.1, amp: 1}}, 2, 3, 3))
}

func TestAgreementLeavesOutWhatChanges(t *testing.T) {
	echo := arrival{at: 0.2, amp: 0.7}
	var all []listening
	for i, span := range spans {
		own := arrival{at: 0.12 + 0.004*float64(i), amp: 0.5} // what the note leaves of itself
		all = append(all, listening{span: span, found: []arrival{echo, own}})
	}
	require.Equal(t, []arrival{echo}, agreement(all))
}

func TestAgreementAsksOnlyWhoCanHear(t *testing.T) {
	var all []listening
	for _, span := range spans {
		l := listening{span: span}
		if span < 0.05 { // a template that holds the echo hides it
			l.found = []arrival{{at: 0.05, amp: -0.4}}
		}
		all = append(all, l)
	}
	require.Equal(t, []arrival{{at: 0.05, amp: -0.4}}, agreement(all))
}

func TestCountOfHeads(t *testing.T) {
	for n := 1; n <= 4; n++ {
		heads := []arrival{{at: 0.083, amp: 0.6}, {at: 0.171, amp: 1}, {at: 0.262, amp: 0.8}, {at: 0.347, amp: 0.5}}[:n]
		h := heard{agreed: arrivalsOf(append([]arrival(nil), heads...), []int{n - 1}, 0.4), until: 3}
		require.Equal(t, n, h.count())
	}
}
