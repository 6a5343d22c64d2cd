package preset

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func note(t *testing.T, s string) Note {
	t.Helper()
	n, err := ParseNote(s)
	require.NoError(t, err)
	return n
}

// 60000/BPM and the fractions of a whole note (definition); at 120 the quarter
// has 500 ms, which is also 24 MIDI clocks of 20.8333 ms (MIDI 1.0 Detailed
// Specification 4.2.1, page 30).
func TestNoteLengths(t *testing.T) {
	for _, c := range []struct {
		note   string
		tempo  BPM
		want   float64
		clocks float64
	}{
		{"1/4", 120, 500, 24},
		{"1/4.", 120, 750, 36},
		{"1/4t", 120, 333.3333, 16},
		{"1/8", 120, 250, 12},
		{"1/8.", 120, 375, 18},
		{"1/8t", 120, 166.6667, 8},
		{"1/16", 120, 125, 6},
		{"1/16.", 100, 225, 9},
		{"1/1", 60, 4000, 96},
		{"1/2", 90, 1333.3333, 48},
		{"1/8.", 128, 351.5625, 18},
		{"1/16t", 140, 71.4286, 4},
	} {
		n := note(t, c.note)
		require.InDelta(t, c.want, float64(n.Length(c.tempo)), 1e-4, "%s at %v", c.note, c.tempo)
		clock := 60_000 / (24 * float64(c.tempo))
		require.InDelta(t, c.clocks*clock, float64(n.Length(c.tempo)), 1e-9)
		require.Equal(t, c.note, n.String())
	}
}

func TestNotesThatDoNotExist(t *testing.T) {
	for _, s := range []string{"", "1", "1/", "1/3", "1/0", "1/-4", "1/128", "2/4", "1/8..", "1/8.t", "1/8T", "1/08", " 1/8", "1/8 ", "1/+8", "eighth"} {
		_, err := ParseNote(s)
		require.ErrorContains(t, err, "note", "%q", s)
	}
}

func TestTempiThatAreNone(t *testing.T) {
	for _, tempo := range []BPM{0, -120, BPM(math.NaN()), BPM(math.Inf(1)), 1e9, 9.99} {
		require.ErrorContains(t, CheckTempo(tempo), "from 10 to 1000")
	}
	require.NoError(t, CheckTempo(120))
}

func TestNearestNote(t *testing.T) {
	n, off := NearestNote(370, 120, CommonNotes())
	require.Equal(t, "1/8.", n.String())
	require.InDelta(t, -5, float64(off), 1e-9)
	n, off = NearestNote(340, 120, CommonNotes())
	require.Equal(t, "1/4t", n.String())
	require.InDelta(t, 6.6667, float64(off), 1e-4)
}

func TestRetimeBringsTheHeadToTheNote(t *testing.T) {
	u := saltmarsh()
	r, err := Retime(u, 132, note(t, "1/8."), 6)
	require.NoError(t, err)
	// 60000/132·3/4 = 340.909 ms; 405/340.909 = 1.188.
	require.InDelta(t, 1.188, r.SpeedRatio, 1e-12)
	require.InDelta(t, 340.90909, float64(r.Unit.Heads[2].Delay), 1e-5)
	require.InDelta(t, 121/1.188, float64(r.Unit.Heads[0].Delay), 1e-9)
	require.Equal(t, "1/8.", r.Heads[2].Note)
	require.Zero(t, r.Heads[2].Off)
	// What follows the speed: corners of tone and rates of wow. What does not: levels, loop.
	require.InDelta(t, 3200*1.188, float64(r.Unit.Heads[0].HighCutHz), 1e-9)
	require.InDelta(t, 0.9*1.188, float64(r.Unit.Motion.WowHz), 1e-12)
	require.InDelta(t, 0.15, float64(r.Unit.Motion.WowPercent), 0)
	require.InDelta(t, 1.188, r.Unit.Motion.SpeedRatio, 1e-12)
	require.Equal(t, u.Feedback, r.Unit.Feedback)
	require.Equal(t, saltmarsh(), u, "the unit handed in stays as it was")
	require.NoError(t, r.Unit.Validate())
}

func TestRetimeRefuses(t *testing.T) {
	_, err := Retime(saltmarsh(), 0, Note{Denominator: 4}, 6)
	require.ErrorContains(t, err, "tempo")
	_, err = Retime(saltmarsh(), 120, Note{Denominator: 4}, 3)
	require.ErrorContains(t, err, "no head 3")
}

func FuzzParseNote(f *testing.F) {
	f.Add("1/8.")
	f.Add("1/16t")
	f.Fuzz(func(t *testing.T, s string) {
		if n, err := ParseNote(s); err == nil {
			require.Equal(t, s, n.String())
			require.Positive(t, n.Quarters())
		}
	})
}
