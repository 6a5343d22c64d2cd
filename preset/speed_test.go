package preset

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestWhatASpeedTakes(t *testing.T) {
	for _, c := range []struct {
		ratio float64
		want  Reach
	}{
		{1, ReachTrim}, {1.1, ReachTrim}, {0.9, ReachTrim},
		{60.0 / 50, ReachTrim}, {50.0 / 60, ReachTrim}, // a synchronous motor on the other mains
		{1.21, ReachStep}, {0.8, ReachStep},
		{19.05 / 9.525, ReachStep}, {9.525 / 19.05, ReachStep}, // 7½ and 3¾ inches a second (1 inch = 2.54 cm)
		{2.01, ReachNever}, {0.49, ReachNever}, {100, ReachNever}, {math.Inf(1), ReachNever}, {0, ReachNever},
	} {
		require.Equal(t, c.want, ReachOf(c.ratio), "%v", c.ratio)
	}
}

// A synchronous motor turns with the mains: 300 ms at 50 Hz are 250 ms at 60 Hz,
// and back (arithmetic of 50/60).
func TestAnotherMains(t *testing.T) {
	for _, c := range []struct {
		move       string
		have, want Millis
		ratio      float64
	}{
		{"50to60", 300, 250, 1.2},
		{"60to50", 250, 300, 50.0 / 60},
		{"50 to 60", 120, 100, 1.2},
		{"60TO50", 100, 120, 50.0 / 60},
	} {
		m, err := ParseMains(c.move)
		require.NoError(t, err)
		u := Unit{Heads: []Head{{Head: 1, Delay: c.have, HighCutHz: 3000}}, Motion: &Motion{SpeedRatio: 1, WowPercent: 0.2, WowHz: 1}}
		r := m.Move(u)
		require.InDelta(t, c.ratio, r.SpeedRatio, 1e-12)
		require.InDelta(t, float64(c.want), float64(r.Unit.Heads[0].Delay), 1e-9)
		require.InDelta(t, float64(c.want-c.have), float64(r.Heads[0].Shift), 1e-9)
		require.InDelta(t, 3000*c.ratio, float64(r.Unit.Heads[0].HighCutHz), 1e-9)
		require.InDelta(t, c.ratio, float64(r.Unit.Motion.WowHz), 1e-12)
		require.Empty(t, r.Heads[0].Note)
		back := Mains{From: m.To, To: m.From}.Move(r.Unit)
		require.InDelta(t, float64(c.have), float64(back.Unit.Heads[0].Delay), 1e-9, "there and back")
	}
	require.Equal(t, "from 50 Hz to 60 Hz mains", Mains{50, 60}.String())
}

func TestMainsThatThereAreNot(t *testing.T) {
	for _, s := range []string{"", "50", "60", "50to50", "50to400", "to", "50-60", "nanto60"} {
		_, err := ParseMains(s)
		require.ErrorContains(t, err, "write 50to60 or 60to50", "%q", s)
	}
}

func TestRetimeNamesShiftsAndRefusesDelaysThatNoUnitHas(t *testing.T) {
	r, err := Retime(saltmarsh(), 120, note(t, "1/4"), 6) // 500 ms, 405/500 of the speed
	require.NoError(t, err)
	require.InDelta(t, 95, float64(r.Heads[2].Shift), 1e-9)
	require.InDelta(t, 121/0.81-121, float64(r.Heads[0].Shift), 1e-9)
	u := Unit{Name: "x", Heads: []Head{{Head: 1, Delay: 10}, {Head: 2, Delay: 1000}}}
	_, err = Retime(u, 10, note(t, "1/1"), 1) // 24 s on head 1 are 2400 s on head 2
	require.ErrorContains(t, err, "head 2 would come to 2.4e+06 ms: delays run from 1 ms to 60000 ms")
	_, err = Retime(u, 1000, note(t, "1/64"), 2) // 3.75 ms on head 2 are 0.0375 ms on head 1
	require.ErrorContains(t, err, "head 1 would come to 0.0375 ms")
}

func TestTempoOfABeat(t *testing.T) {
	// 60000/BPM: 60 → 1000, 90 → 666.667, 100 → 600, 120 → 500, 140 → 428.571 ms (definition).
	for beat, want := range map[Millis]float64{1000: 60, 666.6667: 90, 600: 100, 500: 120, 428.5714: 140} {
		require.InDelta(t, want, float64(TempoOf(beat)), 1e-4)
	}
}

func TestSetsOfNotes(t *testing.T) {
	require.Equal(t, []Note{{Denominator: 16}, {Denominator: 8, Triplet: true}, {Denominator: 8}}, notes(t, "1/16", "1/8t", "1/8"))
	for _, c := range []struct {
		words []string
		says  string
	}{
		{nil, "no note values to choose from"},
		{[]string{"1/8", "1/8"}, "stands twice"},
		{[]string{"1/8", "1/9"}, "no such note value"},
		{[]string{""}, "write 1/4"},
	} {
		_, err := ParseNotes(c.words)
		require.ErrorContains(t, err, c.says)
	}
}
