package arrange

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/profiles"
)

func draftOf(t *testing.T, u preset.Unit) (*deck, *wish, draft) {
	k, err := newDeck(fiveLine(t))
	require.NoError(t, err)
	w := wishOf(t, pattern(t, u))
	voices := k.voices(w)
	made, err := k.route(voices, w.choose(voices, wanted, len(k.device.Lines), 1)[0])
	require.NoError(t, err)
	k.setLevels(w, &made)
	return k, w, made
}

func TestPolishNeverMakesItWorse(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	better := 0
	for range 40 {
		k, w, made := draftOf(t, randomUnit(rng))
		before, err := k.cost(w, made.setting, made.shift)
		require.NoError(t, err)
		require.NoError(t, k.polish(w, &made))
		after, err := k.cost(w, made.setting, made.shift)
		require.NoError(t, err)
		require.LessOrEqual(t, after, before)
		require.NoError(t, k.device.Check(made.setting))
		if after < before {
			better++
		}
	}
	require.Positive(t, better, "there is something to polish")
}

func TestMovesThatAreRefused(t *testing.T) {
	k, _, made := draftOf(t, tradeUnit())
	d := k.device
	parameter := func(name string) int {
		i := d.Parameter(name)
		require.NotEqual(t, profiles.None, i, name)
		return i
	}
	for _, c := range []struct {
		name string
		move move
		ok   bool
	}{
		{"a level a step lower", move{{parameter("a-level"), -1}}, true},
		{"a level two steps lower", move{{parameter("a-level"), -2}}, false},
		{"a level above 0 dB: the device has none", move{{parameter("b-level"), 1}}, false},
		{"a time a step later", move{{parameter("c-time"), 1}}, true},
		{"a time two steps later", move{{parameter("c-time"), 2}}, false},
		{"a time a step later, the lines behind it earlier", move{{parameter("c-time"), 1}, {parameter("d-time"), -1}, {parameter("e-time"), -1}}, true},
		{"a loop a step weaker", move{{parameter("c-feedback"), -1}}, true},
		{"a loop a step stronger than the pattern's", move{{parameter("c-feedback"), 1}}, false},
	} {
		s, ok := k.moved(made, made.setting, c.move)
		require.Equal(t, c.ok, ok, c.name)
		if ok {
			require.NoError(t, d.Check(s), c.name)
		}
	}
	require.Equal(t, made.setting.Codes[parameter("c-time")], 4050, "nothing was changed on the way")
}

func TestALevelAboveZeroIsRefusedWhereThereIsOne(t *testing.T) {
	louder := variant(t, edit{"linear = { code = 1, is = -60.0, step = 0.5 }", "linear = { code = 1, is = -48.0, step = 0.5 }"})
	k, err := newDeck(louder)
	require.NoError(t, err)
	w := wishOf(t, pattern(t, tradeUnit()))
	voices := k.voices(w)
	made, err := k.route(voices, w.choose(voices, wanted, 5, 1)[0])
	require.NoError(t, err)
	k.setLevels(w, &made)
	_, ok := k.moved(made, made.setting, move{{louder.Parameter("b-level"), 1}})
	require.False(t, ok)
}

func TestMovesTakeTheLinesBehindAlong(t *testing.T) {
	// The loop (line c) has lines d and e behind it: time moves of c come with them.
	k, _, made := draftOf(t, tradeUnit())
	c, d, e := k.device.Parameter("c-time"), k.device.Parameter("d-time"), k.device.Parameter("e-time")
	require.Contains(t, k.moves(made), move{{c, 1}, {d, -1}, {e, -1}})
	require.Contains(t, k.moves(made), move{{c, -1}, {d, 1}, {e, 1}})
	for _, m := range k.moves(made) {
		for _, change := range m {
			p := k.device.Parameters[change.parameter]
			require.Contains(t, []profiles.Role{profiles.RoleTime, profiles.RoleLevel, profiles.RoleFeedback}, p.Role, p.Name)
		}
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
