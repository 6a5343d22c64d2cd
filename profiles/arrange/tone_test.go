package arrange

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/profiles"
)

// passed is the tone of the nth echo of a line that feeds itself from the input:
// its cuts passed n times, in dB against 1 kHz.
func passed(d *profiles.Device, l profiles.Line, s profiles.Setting, n int) timbre {
	var x timbre
	for range n {
		x = x.plus(timbreOf(d.Tone(l, s)))
	}
	return x
}

func TestTimbreOfATone(t *testing.T) {
	// One pole at 1 kHz takes 10·log10(2) = 3.0103 dB there; at 2 kHz 10·log10(5) =
	// 6.9897 dB, so 3.9794 dB against 1 kHz; at 8 kHz 10·log10(65) − 3.0103 = 15.1188.
	x := timbreOf(preset.Tone{HighCut: 1000})
	require.InDelta(t, 0, x[4], 1e-9)
	require.InDelta(t, -3.9794, x[5], 1e-4)
	require.InDelta(t, -15.1188, x[7], 1e-4)
	// Below its corner it takes nothing: +3.0103 dB against 1 kHz, less 10·log10(1+1/256).
	require.InDelta(t, 3.0103-0.0169, x[0], 1e-4)
	require.Equal(t, timbre{}, timbreOf(preset.Tone{}))
}

func TestCutsOfTheFiveLineUnit(t *testing.T) {
	k, err := newDeck(fiveLine(t))
	require.NoError(t, err)
	for _, c := range []struct {
		name      string
		tone      preset.Tone
		high, low int // 500·2^(code/6) Hz, off 31; 20·2^((code−1)/6) Hz, off 0
	}{
		{"none", preset.Tone{}, 31, 0},
		{"a high cut of the scale", preset.Tone{HighCut: 4000}, 18, 0},
		{"a low cut of the scale", preset.Tone{LowCut: 80}, 31, 13},
		{"both", preset.Tone{LowCut: 160, HighCut: 2000}, 12, 19},
		{"a high cut below the scale", preset.Tone{HighCut: 100}, 0, 0},
		{"between codes 16 (3175 Hz) and 15 (2828 Hz), nearer to the first by ratio", preset.Tone{HighCut: 3050}, 16, 0},
	} {
		got := k.nearestCut(timbreOf(c.tone))
		require.Equal(t, c.high, got.high, c.name)
		require.Equal(t, c.low, got.low, c.name)
	}
}

func TestLoopGainFromBelow(t *testing.T) {
	k, err := newDeck(fiveLine(t))
	require.NoError(t, err)
	worst := 0.0
	for gain := preset.Decibels(-20); gain < -0.05; gain += 0.37 {
		all := k.loops(timbre{}, gain.Amplitude())
		require.NotEmpty(t, all)
		l := all[0]
		got := preset.FromAmplitude(l.gain)
		require.LessOrEqual(t, got, gain)
		require.GreaterOrEqual(t, l.cut.high, 26, "no cut below 10 kHz where none is wanted")
		// Without the cuts it is short by up to a step: 20·log10(1 + 1/code).
		step := 20 * math.Log10(1+1/float64(max(1, l.code)))
		require.LessOrEqual(t, float64(gain-got), step)
		if gain > -8 {
			worst = max(worst, float64(gain-got))
		}
	}
	// Above −8 dB (code 51) a step is at most 0.17 dB, and the cuts take up to 0.05.
	require.Less(t, worst, 0.13)
	require.Empty(t, k.loops(timbre{}, preset.Decibels(-43).Amplitude()), "1/128 is -42.1 dB")
}

func TestLoopGainWithAToneIsThatOf1kHz(t *testing.T) {
	d := fiveLine(t)
	r := arranged(t, pattern(t, unit(-6, []int{1}, preset.Head{Delay: 300, HighCutHz: 2000, LowCutHz: 100})), d)
	gains := loopGains(d, r.Setting)
	require.Len(t, gains, 1)
	require.LessOrEqual(t, gains[0], preset.Decibels(-6))
	require.InDelta(t, -6, float64(gains[0]), 0.1)
	feedback := d.Amplitude(d.Lines[0].Parameter(profiles.RoleFeedback), r.Setting)
	// 2 kHz and 100 Hz take 0.97 + 0.04 = 1.01 dB of 1 kHz, which feedback makes up for.
	require.InDelta(t, -6+1.01, float64(preset.FromAmplitude(feedback)), 0.35, "a step of the cut more or less")
}

// The tone of first echoes and of repeats: a head's own on its first echo, the
// loop's once more for each turn.
func TestTonesOfFirstEchoesAndRepeats(t *testing.T) {
	tone := preset.Tone{LowCut: 80, HighCut: 3000}
	heads := []preset.Head{{Delay: 121, Level: -7}, {Delay: 263}, {Delay: 405, Level: -2}}
	for i := range heads {
		heads[i].LowCutHz, heads[i].HighCutHz = tone.LowCut, tone.HighCut
	}
	d := fiveLine(t)
	one, far := timbreOf(tone), 0.9 // dB rms: the slack of a loop's cuts, and a step's rounding

	last := arranged(t, pattern(t, unit(-6.9, []int{3}, heads...)), d)
	for line, passes := range []int{1, 1, 1} {
		got := passed(d, d.Lines[line], last.Setting, passes)
		require.Less(t, got.minus(one).off(), far, "line %d", line)
	}
	for _, line := range []int{3, 4} { // the first repeats: through the loop, then their own
		got := passed(d, d.Lines[2], last.Setting, 1).plus(passed(d, d.Lines[line], last.Setting, 1))
		require.Less(t, got.minus(one.plus(one)).off(), far, "line %d", line)
	}

	first := arranged(t, pattern(t, unit(-6.9, []int{1}, heads...)), d)
	for _, line := range []int{1, 2} { // later heads: through the loop's line once already
		got := passed(d, d.Lines[0], first.Setting, 1).plus(passed(d, d.Lines[line], first.Setting, 1))
		require.Less(t, got.minus(one).off(), far, "line %d", line)
	}
	for _, r := range []Result{first, last} {
		require.False(t, containsWarning(r, "tone"), "%q", r.Warnings)
	}
}

func TestALineMoreForTheToneWhereThereIsOne(t *testing.T) {
	// Head 1 is dull and feeds the loop; head 2 behind it is bright. One line from
	// the loop would make head 2 dull. Two heads leave lines for its first echo apart.
	d := fiveLine(t)
	dull := preset.Head{Delay: 121, Level: -3, HighCutHz: 1000}
	r := arranged(t, pattern(t, unit(-6.9, []int{1}, dull, preset.Head{Delay: 263})), d)
	require.Equal(t, 3, inUse(d, r.Setting))
	require.False(t, containsWarning(r, "tone"), "%q", r.Warnings)

	two := variant(t, withLines(2)...)
	r = arranged(t, pattern(t, unit(-6.9, []int{1}, dull, preset.Head{Delay: 263})), two)
	require.True(t, containsWarning(r, "the tone of line b", "off at 8000 Hz"), "%q", r.Warnings)
}

func TestLevelsMakeUpForTheTone(t *testing.T) {
	// A head with a high cut of 1 kHz is stated at its level there, 3.01 dB below
	// what passes far below: the line's level is that much higher, all levels lower.
	d := fiveLine(t)
	dull := preset.Head{Delay: 121, HighCutHz: 1000}
	r := arranged(t, pattern(t, unit(0, nil, dull, preset.Head{Delay: 263})), d)
	_, off := worst(t, r)
	require.LessOrEqual(t, off, tolerableLevel)
	require.InDelta(t, 0, value(t, d, r.Setting, "a-level"), 0.01)
	require.InDelta(t, -3, value(t, d, r.Setting, "b-level"), 0.01)
	require.InDelta(t, -3.01, float64(r.Shift), 0.1)
	require.True(t, containsWarning(r, "all levels lie 3.0 dB lower"), "%q", r.Warnings)
}
