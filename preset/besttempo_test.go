package preset

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestATempoOnWhichEverythingFallsIsFound(t *testing.T) {
	// Heads that were built for 120 BPM: 1/16, 1/8 and 1/8. are 125, 250, 375 ms
	// (60000/120 = 500 ms a quarter).
	u := Unit{Heads: []Head{{Head: 1, Delay: 125}, {Head: 2, Delay: 250}, {Head: 3, Delay: 375}}}
	best, err := BestTempi(u, TempoRange{90, 140}, notes(t, "1/16", "1/8", "1/8."), 5)
	require.NoError(t, err)
	require.InDelta(t, 120, float64(best[0].Tempo), 1e-9)
	require.InDelta(t, 0, best[0].Misfit, 1e-9)
	for i, want := range []string{"1/16", "1/8", "1/8."} {
		require.Equal(t, want, best[0].Heads[i].Note)
		require.InDelta(t, 0, float64(best[0].Heads[i].Off), 1e-9)
	}
}

// Two heads that cannot both fall: 1/8 wants a beat of 2·250 = 500 ms, 1/4 one of
// 520 ms. With the weights 1/JND² (6.25 and 13 ms) the parabola's lowest point is
// (250·½/6.25² + 520/13²) / (¼/6.25² + 1/13²) =
// (3.2 + 3.076923) / (0.0064 + 0.005917160) = 6.276923/0.012317160 = 509.6080.
func TestTheLowestPointByHand(t *testing.T) {
	u := Unit{Heads: []Head{{Head: 1, Delay: 250}, {Head: 2, Delay: 520}}}
	best, err := BestTempi(u, TempoRange{110, 130}, notes(t, "1/8", "1/4"), 1)
	require.NoError(t, err)
	require.InDelta(t, 60_000/509.6080, float64(best[0].Tempo), 1e-4)
	// Offs: 250 − 254.8040 = −4.8040, 520 − 509.6080 = 10.3920; in units of JND
	// −0.76864 and 0.79938, root mean square 0.78416.
	require.InDelta(t, 0.78416, best[0].Misfit, 1e-5)
}

// Nothing between the optima beats them: every tempo of the range, finely, by
// brute force.
func TestNoTempoOfTheRangeIsBetter(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 8))
	for range 20 {
		var u Unit
		for i := range 1 + random.IntN(6) {
			u.Heads = append(u.Heads, Head{Head: i + 1, Delay: Millis(60 + 700*random.Float64())})
		}
		best, err := BestTempi(u, TempoRange{70, 150}, CommonNotes(), 5)
		require.NoError(t, err)
		require.NotEmpty(t, best)
		for tempo := 70.0; tempo <= 150; tempo += 0.01 {
			if m := misfitAt(u, 60_000/tempo, CommonNotes()); m < best[0].Misfit-1e-9 {
				t.Fatalf("%v BPM suits %+v by %v, better than %v", tempo, u.Heads, m, best[0])
			}
		}
		for i, s := range best {
			require.GreaterOrEqual(t, float64(s.Tempo), 70-1e-9)
			require.LessOrEqual(t, float64(s.Tempo), 150+1e-9)
			require.InDelta(t, misfitAt(u, 60_000/float64(s.Tempo), CommonNotes()), s.Misfit, 1e-9)
			if i > 0 {
				require.GreaterOrEqual(t, s.Misfit+1e-9, best[i-1].Misfit, "the best first")
			}
		}
	}
}

func TestOneHeadFallsOnEveryNoteAtItsOwnTempo(t *testing.T) {
	// 400 ms as 1/4 at 150, as 1/8. at 112.5, as 1/4t at 100 BPM (60000/400 times
	// the quarters of the note).
	u := Unit{Heads: []Head{{Head: 1, Delay: 400}}}
	best, err := BestTempi(u, TempoRange{95, 160}, notes(t, "1/4", "1/8.", "1/4t"), 9)
	require.NoError(t, err)
	require.Len(t, best, 3)
	for i, want := range []float64{100, 112.5, 150} {
		require.InDelta(t, want, float64(best[i].Tempo), 1e-9)
		require.InDelta(t, 0, best[i].Misfit, 1e-9)
	}
}

func TestTheEndOfARangeCountsWhereItIsStillGettingBetter(t *testing.T) {
	u := Unit{Heads: []Head{{Head: 1, Delay: 500}}} // 1/4 at 120
	best, err := BestTempi(u, TempoRange{100, 118}, notes(t, "1/4"), 5)
	require.NoError(t, err)
	require.Len(t, best, 1)
	require.InDelta(t, 118, float64(best[0].Tempo), 1e-9)
}

func TestRangesOfTempi(t *testing.T) {
	r, err := ParseTempoRange("90..140")
	require.NoError(t, err)
	require.Equal(t, TempoRange{90, 140}, r)
	r, err = ParseTempoRange("89.5..90")
	require.NoError(t, err)
	require.Equal(t, TempoRange{89.5, 90}, r)
	for in, says := range map[string]string{
		"": "such as 90..140", "90": "such as 90..140", "90-140": "such as 90..140", "..": "such as 90..140", "fast..slow": "such as 90..140",
		"140..90": "the slower first", "90..90": "the slower first", "0..140": "from 10 to 1000", "90..1e9": "from 10 to 1000",
		"nan..140": "from 10 to 1000", "90..inf": "from 10 to 1000", "-90..140": "from 10 to 1000",
	} {
		_, err := ParseTempoRange(in)
		require.ErrorContains(t, err, says, "%q", in)
	}
	_, err = BestTempi(saltmarsh(), TempoRange{140, 90}, CommonNotes(), 5)
	require.ErrorContains(t, err, "the slower first")
	_, err = BestTempi(saltmarsh(), TempoRange{90, 140}, nil, 5)
	require.ErrorContains(t, err, "no note values")
}

func FuzzParseTempoRange(f *testing.F) {
	f.Add("90..140")
	f.Add("nan..inf")
	f.Fuzz(func(t *testing.T, s string) {
		r, err := ParseTempoRange(s)
		if err == nil && (!(r.From >= MinTempo) || !(r.To <= MaxTempo) || !(r.From < r.To) || math.IsNaN(float64(r.From))) {
			t.Fatalf("%q became %+v", s, r)
		}
	})
}
