package arrange

import (
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/profiles"
)

func wishOf(t testing.TB, p preset.Pattern) *wish {
	w, err := newWish(p)
	require.NoError(t, err)
	return w
}

func TestHowManyLinesAPatternTakes(t *testing.T) {
	three := []preset.Head{{Delay: 121, Level: -7}, {Delay: 263}, {Delay: 405, Level: -2}}
	four := append(append([]preset.Head{}, three...), preset.Head{Delay: 560, Level: -3})
	turned := append([]preset.Head{}, three...)
	turned[2].Inverted = true
	for _, c := range []struct {
		name  string
		unit  preset.Unit
		heard []int
		lines int // worked from the rules of the package comment
		words string
	}{
		{"no loop", unit(0, nil, three...), nil, 3, "3 heads"},
		{"one head", unit(-6, []int{1}, three[0]), nil, 1, "1 head with the loop from head 1"},
		{"loop from the last of three", unit(-6, []int{3}, three...), nil, 5, "3 heads with the loop from head 3"},
		{"loop from the last of four", unit(-6, []int{4}, four...), nil, 7, "4 heads with the loop from head 4"},
		{"loop from the first of four", unit(-6, []int{1}, four...), nil, 4, "4 heads with the loop from head 1"},
		// Head 1's line, the loop fed from it (its repeats), head 2's first echo, and its
		// repeats: 4. From the input it would be the silent loop and two for each: 5.
		{"the loop's head not heard", unit(-6, []int{3}, three...), []int{1, 2}, 4, "2 heads with the loop from head 3"},
		// Both later than the loop: the silent loop and a line for each.
		{"later heads, the loop's not heard", unit(-6, []int{1}, three...), []int{2, 3}, 3, "2 heads with the loop from head 1"},
		{"a loop from two heads", unit(-9, []int{1, 3}, three...), nil, 0, "3 heads with the loop from heads 1 and 3"},
		{"a loop from three heads", unit(-20, []int{1, 2, 3}, three...), nil, 0, "3 heads with the loop from heads 1, 2 and 3"},
		{"a loop that turns the sign", unit(-9, []int{3}, turned...), nil, 0, "3 heads with the loop from head 3"},
		{"a loop too weak to be heard", unit(-61, []int{3}, three...), nil, 3, "3 heads"},
	} {
		w := wishOf(t, pattern(t, c.unit, c.heard...))
		require.Equal(t, c.lines, w.lines(), c.name)
		require.Equal(t, c.words, w.describe(), c.name)
	}
}

func TestLoopsThatNeverEndAreLowered(t *testing.T) {
	heads := []preset.Head{{Delay: 100}, {Delay: 230}}
	for _, c := range []struct {
		name    string
		gain    preset.Decibels
		fed     []int
		refused bool
		want    []preset.Decibels
	}{
		{"below 0 dB", -0.1, []int{1}, false, []preset.Decibels{-0.1}},
		{"at 0 dB", 0, []int{1}, true, []preset.Decibels{-1}},
		{"above", 6, []int{1}, true, []preset.Decibels{-1}},
		{"two that add up to less", -6.1, []int{1, 2}, false, []preset.Decibels{-6.1, -6.1}},
		// Two of −6 dB are 2·0.501187 = +0.0206 dB together: each 1.0206 dB lower.
		{"two that add up to more", -6, []int{1, 2}, true, []preset.Decibels{-7.0206, -7.0206}},
	} {
		p := pattern(t, unit(c.gain, c.fed, heads...))
		w := wishOf(t, p)
		require.Equal(t, c.refused, w.refused, c.name)
		require.Len(t, w.returns, len(c.want), c.name)
		for i, gain := range c.want {
			require.InDelta(t, float64(gain), float64(w.returns[i].Gain), 1e-4, c.name)
			require.Equal(t, c.gain, p.Returns[i].Gain, "the pattern handed in stays as it is")
		}
	}
}

func TestLevelsLieAtZeroOrBelow(t *testing.T) {
	code := func(d *profiles.Device, level preset.Decibels) int {
		k, err := newDeck(d)
		require.NoError(t, err)
		return k.level[k.level.nearest(level.Amplitude())].code
	}
	// The manual: 0 is silent, 1 is −60.0 dB … 121 is 0.0 dB, 0.5 dB a step.
	for _, c := range []struct {
		level preset.Decibels
		code  int
	}{
		{0, 121}, {3, 121}, {-0.2, 121}, {-0.3, 120}, {-6, 109}, {-59.8, 1}, {-62, 1}, {-65.9, 1}, {-66.1, 0}, {-200, 0},
	} {
		require.Equal(t, c.code, code(fiveLine(t), c.level), "%v", c.level)
	}

	louder := variant(t, edit{"linear = { code = 1, is = -60.0, step = 0.5 }", "linear = { code = 1, is = -48.0, step = 0.5 }"})
	require.Equal(t, 97, code(louder, 0), "up to +12 dB, 0 dB at code 97")
	require.Equal(t, 97, code(louder, 6))
	r := arranged(t, pattern(t, tradeUnit()), louder)
	require.InDelta(t, 0, value(t, louder, r.Setting, "b-level"), 1e-9)
	require.Zero(t, missing(r))
}
