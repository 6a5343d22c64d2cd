package measure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// train is what heads at the given times, all equally loud, and a loop through one
// of them show, down to a tenth, the loudest first.
func train(at []float64, feed int, fed float64) []arrival {
	var all []arrival
	for turn, amp := 0, 1.0; math.Abs(amp) > 0.1; turn, amp = turn+1, amp*fed {
		for _, t := range at {
			all = append(all, arrival{at: t + float64(turn)*at[feed], amp: amp})
		}
		if fed == 0 {
			break
		}
	}
	return all
}

func TestRepeatsAreToldFromHeads(t *testing.T) {
	for _, c := range []struct {
		name string
		at   []float64
		feed int
		fed  float64
	}{
		{"no loop", []float64{0.1, 0.23, 0.31}, 0, 0},
		{"loop through the last", []float64{0.1, 0.23, 0.31}, 2, 0.5},
		{"loop through the first", []float64{0.1, 0.23}, 0, 0.5},
		{"a loop that inverts", []float64{0.1, 0.23}, 1, -0.5},
	} {
		t.Run(c.name, func(t *testing.T) {
			best := guesses(train(c.at, c.feed, c.fed), len(c.at), 1)[0]
			for k, h := range best.heads {
				require.InDelta(t, c.at[k], h.at, 1e-12)
			}
			if c.fed == 0 {
				require.Equal(t, -1, best.feed)
				return
			}
			require.Equal(t, c.feed, best.feed)
			require.InDelta(t, c.fed, best.fed, 0.1) // the last repeat is missing, which pulls it down
		})
	}
}

func TestAsManyHeadsAsArrivals(t *testing.T) {
	var at []float64
	for k := range maxHeads {
		at = append(at, 0.05+0.041*float64(k*k+k))
	}
	require.Len(t, guesses(train(at, 0, 0), maxHeads, 1)[0].heads, maxHeads)
	require.Empty(t, guesses(train(at[:3], 0, 0), 4, 1))
}
