package preset

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

func notes(t *testing.T, words ...string) []Note {
	t.Helper()
	all, err := ParseNotes(words)
	require.NoError(t, err)
	return all
}

// saltmarsh has heads at 121, 263 and 405 ms. At 120 BPM 1/16 is 125, 1/8t 166.667
// and 1/8 250 ms (60000/120 = 500 ms a quarter).
func TestGridMovesEachHeadToItsOwnNote(t *testing.T) {
	u := saltmarsh()
	for _, c := range []struct {
		name  string
		tempo BPM
		notes []string
		want  []RetimedHead
	}{
		{"three notes, two heads on one", 120, []string{"1/16", "1/8t", "1/8"}, []RetimedHead{
			{Head: 2, Delay: 125, Note: "1/16", Shift: 4},
			{Head: 4, Delay: 250, Note: "1/8", Shift: -13},
			{Head: 6, Delay: 250, Note: "1/8", Shift: -155},
		}},
		{"one note", 120, []string{"1/4"}, []RetimedHead{
			{Head: 2, Delay: 500, Note: "1/4", Shift: 379},
			{Head: 4, Delay: 500, Note: "1/4", Shift: 237},
			{Head: 6, Delay: 500, Note: "1/4", Shift: 95},
		}},
		// 100 BPM: 1/16 150, 1/8 300, 1/8. 450 ms (check by 60000/100 = 600).
		{"another tempo", 100, []string{"1/8.", "1/8", "1/16"}, []RetimedHead{
			{Head: 2, Delay: 150, Note: "1/16", Shift: 29},
			{Head: 4, Delay: 300, Note: "1/8", Shift: 37},
			{Head: 6, Delay: 450, Note: "1/8.", Shift: 45},
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := Grid(u, c.tempo, notes(t, c.notes...))
			require.NoError(t, err)
			require.Equal(t, 1.0, r.SpeedRatio, "no speed is changed")
			require.Len(t, r.Heads, len(c.want))
			for i, want := range c.want {
				require.InDelta(t, float64(want.Delay), float64(r.Heads[i].Delay), 1e-9)
				require.InDelta(t, float64(want.Shift), float64(r.Heads[i].Shift), 1e-9)
				require.Equal(t, want.Note, r.Heads[i].Note)
				require.Zero(t, r.Heads[i].Off)
				require.Equal(t, r.Heads[i].Delay, r.Unit.Heads[i].Delay)
			}
		})
	}
}

func TestGridKeepsAllButTheDelays(t *testing.T) {
	u := saltmarsh()
	u.Heads[0].DelaySD = 0.3
	r, err := Grid(u, 120, CommonNotes())
	require.NoError(t, err)
	for i, h := range r.Unit.Heads {
		require.Zero(t, h.DelaySD, "a delay that was chosen has no deviation")
		h.Delay, h.DelaySD = u.Heads[i].Delay, u.Heads[i].DelaySD
		require.Equal(t, u.Heads[i], h)
	}
	require.Equal(t, u.Motion, r.Unit.Motion)
	require.Equal(t, u.Feedback, r.Unit.Feedback)
	require.InDelta(t, 121, float64(u.Heads[0].Delay), 0, "the unit handed in stays as it was")
	require.NoError(t, r.Unit.Validate())
}

func TestGridRefuses(t *testing.T) {
	_, err := Grid(saltmarsh(), 0, CommonNotes())
	require.ErrorContains(t, err, "tempo 0")
	_, err = Grid(saltmarsh(), 120, nil)
	require.ErrorContains(t, err, "no note values to choose from")
}

func TestHeadsThatCameTogetherAreTold(t *testing.T) {
	for _, c := range []struct {
		name   string
		delays []Millis
		want   []SharedNote
	}{
		{"each on its own", []Millis{120, 250, 500}, nil},
		{"two on one", []Millis{120, 240, 260}, []SharedNote{{"1/8", []int{2, 3}}}},
		{"apart by number", []Millis{240, 500, 260}, []SharedNote{{"1/8", []int{1, 3}}}},
		{"two pairs", []Millis{240, 260, 490, 510}, []SharedNote{{"1/8", []int{1, 2}}, {"1/4", []int{3, 4}}}},
		{"all three", []Millis{240, 250, 260}, []SharedNote{{"1/8", []int{1, 2, 3}}}},
	} {
		var u Unit
		for i, d := range c.delays {
			u.Heads = append(u.Heads, Head{Head: i + 1, Delay: d})
		}
		r, err := Grid(u, 120, notes(t, "1/16", "1/8", "1/4"))
		require.NoError(t, err)
		require.Equal(t, c.want, r.Together(), c.name)
	}
	random := rand.New(rand.NewPCG(9, 10))
	for range 1000 { // whatever rounding makes of the delays
		u := Unit{Heads: []Head{{Head: 1, Delay: Millis(400 * random.Float64())}, {Head: 2, Delay: Millis(400 * random.Float64())}}}
		r, err := Grid(u, BPM(40+168*random.Float64()), notes(t, "1/8."))
		require.NoError(t, err)
		require.Equal(t, []SharedNote{{"1/8.", []int{1, 2}}}, r.Together())
	}
	r, err := Unaltered(Unit{Heads: []Head{{Head: 1, Delay: 240}, {Head: 2, Delay: 260}}}, 120, notes(t, "1/8"))
	require.NoError(t, err)
	require.Empty(t, r.Together(), "beside one note, but not moved onto it")
}

func TestTheHeadNearestToANote(t *testing.T) {
	u := saltmarsh()
	for _, c := range []struct {
		tempo BPM
		notes []string
		head  int
		note  string
		off   float64
	}{
		// 60000/120·3/4 = 375; heads at 121, 263, 405.
		{120, []string{"1/8."}, 6, "1/8.", 30},
		{120, []string{"1/16"}, 2, "1/16", -4},
		// 13 ms at 263 ms are 1.98 of 6.575 ms, 4 ms at 121 ms 0.67 of 6 ms.
		{120, []string{"1/16", "1/8"}, 2, "1/16", -4},
		// 60000/114 = 526.316 ms: 1/8 263.158.
		{114, []string{"1/8"}, 4, "1/8", 263 - 263.15789},
	} {
		r, err := Unaltered(u, c.tempo, notes(t, c.notes...))
		require.NoError(t, err)
		near := r.Nearest()
		require.Equal(t, c.head, near.Head)
		require.Equal(t, c.note, near.Note)
		require.InDelta(t, c.off, float64(near.Off), 1e-4)
		require.Equal(t, u, r.Unit, "unaltered")
		require.Zero(t, near.Shift)
	}
}

// The nearest in milliseconds, found by trying all.
func TestNoOtherNoteIsNearer(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	for range 2000 {
		delay, tempo := Millis(5+1500*random.Float64()), BPM(40+168*random.Float64()) // the metronome's range
		n, off := NearestNote(delay, tempo, CommonNotes())
		require.InDelta(t, float64(delay-n.Length(tempo)), float64(off), 1e-9)
		for _, other := range CommonNotes() {
			away := delay - other.Length(tempo)
			require.GreaterOrEqual(t, float64(max(away, -away)), float64(max(off, -off)))
		}
	}
}
