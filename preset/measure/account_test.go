package measure

import (
	"math/rand"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// threeHeads are to be told apart from their repeats: no head stands at the place
// of another's repeat.
var threeHeads = unit{delays: []float64{101.3, 187.7, 286.2}, levels: []float64{-6, 0, -3}, feeds: []int{2}, loop: -8, tone: dullTone()}

// recorded is a short note through a unit.
func recorded(seed int64, u unit, r recording) Take {
	x, _, _ := record(rand.New(rand.NewSource(seed)), shortNote, u, r)
	return Take{Rate: preset.Hertz(r.rate), Samples: x}
}

// said is all warnings in one text.
func said(all []Warning) string {
	text := ""
	for _, w := range all {
		text += w.String() + "\n"
	}
	return text
}

func requireRefusal(t *testing.T, err error, reason Reason) string {
	t.Helper()
	var refusal *Refusal
	require.ErrorAs(t, err, &refusal)
	require.Equal(t, reason, refusal.Reason, refusal.Detail)
	return refusal.Detail
}

func TestMoreHeadsNamedThanSoundAreRefused(t *testing.T) {
	still := threeHeads
	noLoop := threeHeads
	noLoop.feeds = nil
	inverted := threeHeads
	inverted.invert = []bool{true, false, false}
	for _, c := range []struct {
		name  string
		unit  unit
		named int
		says  []string
	}{
		{"one too many", still, 4, []string{"4 heads named, 3 sound", "at 101.3 ms (-6", "187.7 ms (-0", "286.2 ms (-3"}},
		{"three too many", still, 6, []string{"6 heads named, 3 sound"}},
		{"one too many, without a loop", noLoop, 4, []string{"4 heads named, 3 sound"}},
		{"one too many, one inverted", inverted, 4, []string{"inverted)"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			_, err := Heads(recorded(40, c.unit, quickTake), Options{Heads: allHeads[:c.named]})
			detail := requireRefusal(t, err, FewerEchoes)
			for _, s := range c.says {
				require.Contains(t, detail, s)
			}
		})
	}
}

// With fewer heads named than sound, the figures of those that were have to be as
// right as if all had been named: a fifth of what the project asks of a plain take.
func TestMoreHeadsThanNamedAreFittedAndTold(t *testing.T) {
	truth := threeHeads.truth(allHeads[:3], quickRate)
	for _, c := range []struct {
		name  string
		named []int
	}{{"two of three", []int{2, 4}}, {"one of three", []int{6}}} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r, err := Heads(recorded(41, threeHeads, quickTake), Options{Heads: c.named})
			require.NoError(t, err)
			require.Equal(t, c.named, r.Unit.HeadNumbers())
			text := said(r.Warnings)
			require.Contains(t, text, "named, but 3 sound: at 101.3 ms (-6")
			require.Contains(t, text, "name all heads that were on")
			loudest := preset.Decibels(-100)
			for _, h := range r.Unit.Heads {
				require.Condition(t, func() bool {
					for _, w := range truth.Heads {
						if d := h.Delay - w.Delay; d < 0.02 && d > -0.02 {
							level := h.Level + r.Unit.Direct.EchoToDirect - truth.Direct.EchoToDirect
							return level-w.Level < 0.05 && w.Level-level < 0.05
						}
					}
					return false
				}, "%+v", h)
				loudest = max(loudest, h.Level)
			}
			require.Zero(t, loudest, "levels are those to the loudest that was named")
			r.Unit.Name, r.Unit.Kind = "simulated", preset.Other
			require.NoError(t, r.Unit.Validate())
			for _, e := range r.Echoes {
				require.Contains(t, c.named, e.Head)
			}
		})
	}
}

func TestMoreHeadsThanNamedInSeveralNotes(t *testing.T) {
	t.Parallel()
	u := unit{delays: []float64{80, 131}, levels: []float64{-2, 0}, feeds: []int{0}, loop: -12, tone: dullTone()}
	take := recording{rate: quickRate, lead: 0.15, seconds: 2.8, noise: -66, plucks: 2, every: 1.35}
	r, err := Heads(recorded(42, u, take), Options{Heads: []int{3}})
	require.NoError(t, err)
	require.Len(t, r.Notes, 2)
	for _, n := range r.Notes {
		require.Len(t, n.Heads, 1)
		require.Equal(t, 3, n.Heads[0].Head)
	}
	require.Contains(t, said(r.Warnings), "1 head named, but 2 sound")
}

// What is named and sounds is measured without a word.
func TestHeadsNamedRightlyCallForNoWord(t *testing.T) {
	faint := unit{delays: []float64{101.3, 187.7, 286.2}, levels: []float64{-24, 0, -3}, feeds: []int{2}, loop: -8, tone: dullTone()}
	even := unit{delays: []float64{100, 200, 300}, levels: []float64{-2, 0, -3}, feeds: []int{0}, loop: -8, tone: dullTone()}
	for _, c := range []struct {
		name string
		unit unit
	}{{"three heads", threeHeads}, {"a faint one among them", faint}, {"evenly spaced, all repeats on heads", even}} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r, err := Heads(recorded(43, c.unit, quickTake), Options{Heads: []int{1, 2, 3}})
			require.NoError(t, err)
			require.NotContains(t, said(r.Warnings), "named")
			require.Less(t, missOf(r.Unit, c.unit.truth([]int{1, 2, 3}, quickRate)).delay, 0.03)
		})
	}
}

// One head of 100 ms whose repeats fall by 6 dB is also two heads of 100 and 200
// ms, the second 6 dB softer, whose repeats fall by 12 dB: nobody can tell.
func TestTwoExplanationsAreBothTold(t *testing.T) {
	t.Parallel()
	u := unit{delays: []float64{100}, levels: []float64{-3}, feeds: []int{0}, loop: -6}
	r, err := Heads(recorded(44, u, quickTake), Options{Heads: []int{1, 2}})
	if err != nil {
		require.Contains(t, requireRefusal(t, err, FewerEchoes), "2 heads named, 1 sounds: at 100.0 ms")
		return
	}
	require.Contains(t, said(r.Warnings), "1 head with repeats would explain the take as well: at 100.0 ms")
}

func TestWithoutAHeadTheLoopStaysWithTheOthers(t *testing.T) {
	m := machine{delay: []float64{0.1, 0.2, 0.3}, gain: []float64{0.5, -0.4, 0.3}, feeds: []int{0, 2}, loop: 0.6}
	for _, c := range []struct {
		without int
		delay   []float64
		gain    []float64
		feeds   []int
		loop    float64
	}{
		{0, []float64{0.2, 0.3}, []float64{-0.4, 0.3}, []int{1}, 0.6},
		{1, []float64{0.1, 0.3}, []float64{0.5, 0.3}, []int{0, 1}, 0.6},
		{2, []float64{0.1, 0.2}, []float64{0.5, -0.4}, []int{0}, 0.6},
	} {
		got := m.without(c.without)
		require.Equal(t, machine{delay: c.delay, gain: c.gain, feeds: c.feeds, loop: c.loop}, got)
	}
	require.Len(t, m.delay, 3, "the machine itself keeps its heads")
	only := machine{delay: []float64{0.1, 0.2}, gain: []float64{1, 1}, feeds: []int{1}, loop: 0.5}
	require.Zero(t, only.without(1).loop, "no head is left to feed it")
}

func TestListsReadAsPeopleSpeak(t *testing.T) {
	require.Equal(t, "", listed(nil))
	require.Equal(t, "a", listed([]string{"a"}))
	require.Equal(t, "a and b", listed([]string{"a", "b"}))
	require.Equal(t, "a, b and c", listed([]string{"a", "b", "c"}))
	require.Equal(t, "1 head", headCount(1))
	require.Equal(t, "2 heads", headCount(2))
	require.Equal(t, "1 sounds", soundsOf(1))
	require.Equal(t, "4 sound", soundsOf(4))
}
