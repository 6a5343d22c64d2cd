package arrange

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/profiles"
)

func castFor(t *testing.T, d *profiles.Device, p preset.Pattern) *cast {
	k, err := newDeck(d)
	require.NoError(t, err)
	w := wishOf(t, p)
	return &cast{deck: k, wish: w, taps: w.taps}
}

func TestChainsOfLines(t *testing.T) {
	p := pattern(t, tradeUnit())
	for _, c := range []struct {
		name  string
		edits []edit
		delay preset.Millis
		loop  float64
		lines int // 0: not to be had
	}{
		{"within one line", nil, 1600, 0, 1},
		{"two lines", nil, 1600.1, 0, 2},
		{"five lines", nil, 8000, 0, 5},
		{"six lines", nil, 8000.1, 0, 0},
		{"a loop in one line", nil, 1600, 0.5, 1},
		{"a loop over two lines", nil, 1700, 0.5, 0},
		{"no time at all", nil, 0, 0, 0},
		{"backwards", nil, -1, 0, 0},
		{"a loop without feedback", []edit{without(t, "feedback", "3", "3")}, 100, 0.5, 0},
		{"a chain without sources", []edit{without(t, "source", "4", "5")}, 1700, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			cast := castFor(t, variant(t, c.edits...), p)
			at := cast.chain(none, c.delay, c.loop, voice{first: c.delay})
			if c.lines == 0 {
				require.Equal(t, unreachable, at)
				return
			}
			require.Len(t, cast.voices[at].needs, c.lines)
			require.InDelta(t, float64(c.delay), float64(cast.voices[at].at), 0.05+1e-9, "half a step of 0.1 ms, over all lines")
			require.Equal(t, at, cast.chain(none, c.delay, c.loop, voice{first: c.delay}), "the same voice is there once")
			require.Equal(t, unreachable, cast.chain(unreachable, 100, 0, voice{first: 100}))
		})
	}
}

func TestRoundingDoesNotAddUpAlongAChain(t *testing.T) {
	cast := castFor(t, fiveLine(t), pattern(t, tradeUnit()))
	at := none
	for i := range 5 {
		first := preset.Millis(100.04 * float64(i+1))
		at = cast.chain(at, 100.04, 0, voice{first: first})
		require.InDelta(t, float64(first), float64(cast.voices[at].at), 0.05+1e-9)
	}
}

func TestVoicesAreNeverTooMany(t *testing.T) {
	var heads []preset.Head
	all := make([]int, 40)
	for i := range all {
		heads = append(heads, preset.Head{Delay: preset.Millis(50 + 31*i), Level: -preset.Decibels(i % 3)})
		all[i] = i + 1
	}
	d := fiveLine(t)
	k, err := newDeck(d)
	require.NoError(t, err)
	voices := k.voices(wishOf(t, pattern(t, unit(-40, all, heads...))))
	require.LessOrEqual(t, len(voices), mostVoices)
	for i, v := range voices {
		require.Equal(t, i, v.needs[len(v.needs)-1], "itself the last")
		require.True(t, slices.IsSorted(v.needs), "sources come before")
		require.LessOrEqual(t, len(v.needs), len(d.Lines))
	}
	r := arranged(t, pattern(t, unit(-40, all, heads...)), d)
	require.Less(t, r.Error, preset.Decibels(0))
}

func TestNoVoiceLoopsStrongerThanThePattern(t *testing.T) {
	for _, u := range []preset.Unit{
		tradeUnit(), unit(-9, []int{1, 3}, tradeUnit().Heads...), unit(-0.3, []int{2}, tradeUnit().Heads...),
	} {
		k, err := newDeck(fiveLine(t))
		require.NoError(t, err)
		w := wishOf(t, pattern(t, u))
		looping := 0
		for _, v := range k.voices(w) {
			require.LessOrEqual(t, v.gain, w.returns[0].Gain.Amplitude()+1e-12)
			if v.gain > 0 {
				looping++
			}
		}
		require.Positive(t, looping)
	}
}

// Of the sets that can be tried all, the search must find the best.
func TestChoiceIsThatOfTryingAllSets(t *testing.T) {
	k, err := newDeck(fiveLine(t))
	require.NoError(t, err)
	heads := append(tradeUnit().Heads, preset.Head{Head: 4, Delay: 560, Level: -3})
	for _, c := range []struct {
		name string
		unit preset.Unit
	}{
		{"four heads, the loop from the last", unit(-6.9, []int{4}, heads...)},
		{"three heads, the loop from the middle", unit(-3, []int{2}, heads[:3]...)},
		{"four heads without loop", unit(0, nil, heads...)},
	} {
		w := wishOf(t, pattern(t, c.unit))
		voices := k.voices(w)
		g := &growth{voices: voices}
		g.all, g.plain = w.sums(voices, wanted)
		const lines = 3
		least := g.choice(nil)
		var try func(set []int, from int)
		try = func(set []int, from int) {
			for v := from; v < len(voices); v++ {
				next := append(slices.Clone(set), v)
				if closed(voices, next) {
					if found := g.choice(next); found.cost < least.cost {
						least = found
					}
				}
				if len(next) < lines {
					try(next, v+1)
				}
			}
		}
		try(nil, 0)
		got := w.choose(voices, wanted, lines, 3)
		require.InDelta(t, least.cost, got[0].cost, 1e-9, c.name)
		require.Equal(t, least.voices, got[0].voices, c.name)
	}
}

// closed reports whether every voice has its sources with it.
func closed(voices []voice, set []int) bool {
	for _, v := range set {
		for _, n := range voices[v].needs {
			if !slices.Contains(set, n) {
				return false
			}
		}
	}
	return true
}
