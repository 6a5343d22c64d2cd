package arrange

import (
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/profiles"
)

// Four heads with the loop from the last are too much for every one of these. What
// is preferred must then be no worse than in the nearest setting, and is told.
func TestPreferencesGetWhatTheyPrefer(t *testing.T) {
	heads := []preset.Head{{Delay: 121, Level: -7}, {Delay: 263}, {Delay: 405, Level: -2}, {Delay: 560, Level: -3}}
	p := pattern(t, unit(-6.9, []int{4}, heads...))
	w := wishOf(t, p)
	for _, name := range []string{"five-line", "twin", "open-parameter"} {
		d := shipped(t, name)
		k, err := newDeck(d)
		require.NoError(t, err)
		lossFor := func(prefer Preference) (loss, Result) {
			r, err := ArrangeFor(p, d, prefer)
			require.NoError(t, err)
			require.NoError(t, d.Check(r.Setting))
			return k.lossOf(w, draft{setting: r.Setting, shift: r.Shift}), r
		}
		nearest, plain := lossFor(Nearest)
		for _, prefer := range Preferences() {
			got, r := lossFor(prefer)
			require.LessOrEqual(t, got.compare(nearest, prefer), 0, "%s, %s: %+v, %+v", name, prefer, got, nearest)
			require.GreaterOrEqual(t, r.Error, plain.Error, "%s, %s: nothing is nearer than the nearest", name, prefer)
			require.True(t, containsWarning(r, "preferred: "+string(prefer)), "%s: %q", name, r.Warnings)
		}
	}
}

// Two lines without sources: the nearest setting repeats what it can; with the first
// set preferred both lines are first echoes of the loudest heads.
func TestAPreferenceChangesThePlanWhereThereIsAChoice(t *testing.T) {
	p := pattern(t, unit(-3, []int{1}, preset.Head{Delay: 150, Level: -6}, preset.Head{Delay: 370}))
	d := shipped(t, "twin")
	plain := arranged(t, p, d)
	first, err := ArrangeFor(p, d, FirstSet)
	require.NoError(t, err)
	k, err := newDeck(d)
	require.NoError(t, err)
	w := wishOf(t, p)
	off := k.lossOf(w, draft{setting: first.Setting, shift: first.Shift}).first
	require.Less(t, off, 0.02, "both first echoes are right to a twentieth of their energy")
	require.LessOrEqual(t, off, k.lossOf(w, draft{setting: plain.Setting, shift: plain.Shift}).first+1e-9)
}

func TestWithoutAChoicePreferencesChangeNothing(t *testing.T) {
	d := shipped(t, "tap-loop")
	p := pattern(t, tradeUnit())
	plain := arranged(t, p, d)
	for _, prefer := range Preferences() {
		r, err := ArrangeFor(p, d, prefer)
		require.NoError(t, err)
		require.Equal(t, plain, r, prefer)
	}
	_, err := ArrangeFor(p, d, "loudest")
	require.ErrorContains(t, err, `preference "loudest": there are ["first-set" "repeats" "count"]`)
}

// Units that no device can do: an answer all the same, and in bounded work.
func TestHardUnitsOnAllDevices(t *testing.T) {
	var twelve []preset.Head
	for i := range 12 {
		twelve = append(twelve, preset.Head{Delay: preset.Millis(101 + 103*i + i*i), Level: -preset.Decibels((i * 5) % 7)})
	}
	for _, name := range profiles.Names() {
		d := shipped(t, name)
		for what, u := range map[string]preset.Unit{
			"one head":           unit(0, nil, preset.Head{Delay: 300}),
			"twelve heads":       unit(-4, []int{12}, twelve...),
			"a head at 3 s":      unit(0, nil, preset.Head{Delay: 3000}),
			"a loop of -0.1 dB":  unit(-0.1, []int{2}, preset.Head{Delay: 150}, preset.Head{Delay: 300}),
			"a loop of 3 s":      unit(-3, []int{1}, preset.Head{Delay: 3000}),
			"two ways that grow": unit(-0.1, []int{1, 2}, preset.Head{Delay: 20}, preset.Head{Delay: 33}),
		} {
			r, err := Arrange(pattern(t, u), d)
			require.NoError(t, err, "%s on %s", what, name)
			require.NoError(t, d.Check(r.Setting), "%s on %s", what, name)
			require.LessOrEqual(t, r.Error, preset.Decibels(1e-9), "%s on %s", what, name)
			requireLoopsWithin(t, d, pattern(t, u), r, 0)
		}
		_, err := Arrange(preset.Pattern{}, d)
		require.ErrorContains(t, err, "no head is to be heard", name)
	}
}
