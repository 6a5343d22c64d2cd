package arrange

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/profiles"
)

func searchFor(t testing.TB, d *profiles.Device, u preset.Unit) *search {
	k, err := newDeck(d)
	require.NoError(t, err)
	return newSearch(k, wishOf(t, pattern(t, u)))
}

func TestPolishNeverMakesItWorse(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	better := 0
	for range 40 {
		x := searchFor(t, fiveLine(t), randomUnit(rng))
		made := x.drafts()[0]
		x.setLevels(&made)
		before := x.hear(made.setting, made.shift)
		x.polish(&made)
		after := x.hear(made.setting, made.shift)
		require.LessOrEqual(t, after, before)
		require.NoError(t, x.deck.device.Check(made.setting))
		if after < before {
			better++
		}
	}
	require.Positive(t, better, "there is something to polish")
}

// Two knobs of five rungs each; what is heard is best with both one higher, and
// worse with either alone.
func TestABenchTurnsKnobsInPairs(t *testing.T) {
	five := ladder{{10, 0}, {20, 1}, {30, 2}, {40, 3}, {50, 4}}
	hear := func(s profiles.Setting) float64 {
		a, b := float64(s.Codes[0])/10, float64(s.Codes[2])/10
		return (a-b)*(a-b) + 0.1*(5-a)
	}
	for _, c := range []struct {
		name    string
		near    bool
		allowed func(profiles.Setting) bool
		want    []int
	}{
		{"to the end", false, func(profiles.Setting) bool { return true }, []int{50, 7, 50}},
		{"no farther than a rung", true, func(profiles.Setting) bool { return true }, []int{20, 7, 20}},
		{"as far as is allowed", false, func(s profiles.Setting) bool { return s.Codes[0] <= 30 }, []int{30, 7, 30}},
	} {
		s := profiles.Setting{Codes: []int{10, 7, 10}}
		b := newBench(s, []knob{{parameter: 0, ladder: five}, {parameter: 2, ladder: five}}, nil)
		b.near, b.hear, b.allowed = c.near, hear, c.allowed
		cost := b.polish(func() bool { return false })
		require.Equal(t, c.want, b.setting.Codes, c.name)
		require.InDelta(t, hear(b.setting), cost, 1e-12, c.name)
		require.Equal(t, []int{10, 7, 10}, s.Codes, "the setting handed in stays as it is")
	}
}

func TestLadders(t *testing.T) {
	l := ladder{{3, 0.5}, {9, 0}, {4, 1}, {5, 1}}.sorted()
	require.Equal(t, ladder{{9, 0}, {3, 0.5}, {4, 1}}, l, "in order, each value once")
	for v, place := range map[float64]int{-1: 0, 0.2: 0, 0.25: 0, 0.26: 1, 0.8: 2, 7: 2} {
		require.Equal(t, place, l.nearest(v), "%v", v)
	}
	for v, place := range map[float64]int{-1: -1, 0: 0, 0.49: 0, 0.5: 1, 7: 2} {
		require.Equal(t, place, l.atMost(v), "%v", v)
	}
	require.Equal(t, 1, l.place(3))
	require.Equal(t, -1, l.place(5))
	require.InDelta(t, 0.5, l.step(), 1e-12)
	require.InDelta(t, 0.5, l.audible(), 1e-12)
}

// On ladders of three rungs everything can be tried.
func TestRoundingFindsTheBestRungs(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 4))
	l := ladder{{0, 0}, {1, 0.4}, {2, 1}}
	for range 200 {
		cross := rng.Float64()
		s := sums{pairs: [][]float64{{1, cross}, {cross, 1}}, wish: []float64{rng.Float64(), rng.Float64()}, own: 1, power: 1}
		r := rounding{sums: s, ladder: l, louder: 1, places: []int{0, 0}, levels: []float64{0, 0}, start: []int{0, 0}, reach: anyRung}
		least := 1.0
		for _, a := range l {
			for _, b := range l {
				least = min(least, max(0, s.cost([]int{0, 1}, []float64{a.value, b.value})))
			}
		}
		require.InDelta(t, least, r.settle(), 1e-8)
	}
}

// Whatever numbers come in: a clear error or a safe setting, never a panic.
func FuzzArrange(f *testing.F) {
	f.Add(121.0, -7.0, 263.0, 0.0, 3000.0, 80.0, 405.0, -6.9, -3.0, byte(0))
	f.Add(1.0, 0.0, 60000.0, -96.0, 0.0, 0.0, 1.0, 12.0, 96.0, byte(255))
	f.Add(1.0, 0.0, 34.0, 0.0, 1e-9, 1e5, 1.0, -0.001, -96.0, byte(3))
	f.Add(1.0, 0.0, 1.05, 0.0, 0.0, 0.0, 1.02, -0.001, -96.0, byte(35))
	d := fiveLine(f)
	f.Fuzz(func(t *testing.T, d1, l1, d2, l2, high, low, back, gain, ratio float64, flags byte) {
		direct := preset.Decibels(ratio)
		p := preset.Pattern{
			Taps: []preset.Tap{
				{Head: 1, Delay: preset.Millis(d1), Level: preset.Decibels(l1), Inverted: flags&1 != 0},
				{Head: 2, Delay: preset.Millis(d2), Level: preset.Decibels(l2), Tone: preset.Tone{LowCut: preset.Hertz(low), HighCut: preset.Hertz(high)}},
			},
			Returns: []preset.Return{{Head: 1 + int(flags>>4&3), Delay: preset.Millis(back), Gain: preset.Decibels(gain), Inverted: flags&2 != 0}},
		}
		if flags&4 != 0 {
			p.EchoToDirect = &direct
		}
		r, err := Arrange(p, d)
		if err != nil {
			require.ErrorContains(t, err, "pattern: ")
			return
		}
		require.NoError(t, d.Check(r.Setting))
		require.LessOrEqual(t, r.Shift, preset.Decibels(0))
		for _, g := range loopGains(d, r.Setting) {
			require.LessOrEqual(t, float64(g), gain+1e-9)
			require.Less(t, g, preset.Decibels(0))
		}
	})
}
