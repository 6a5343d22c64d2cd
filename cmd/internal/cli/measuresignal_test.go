package cli

import (
	"bytes"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/measure/response"
	"echowright/preset/signals"
	"echowright/preset/wavfile"
)

// recorded writes a signal, and a take of it with an echo 0.2 s later at half the
// level, as files; and, where two is set, the direct sound in a channel of its own.
func recorded(t *testing.T, s signals.Signal, two bool) (take, figures string) {
	t.Helper()
	text, err := signals.Format(s)
	require.NoError(t, err)
	dry := s.Samples()
	wet, later := make([]float64, len(dry)), int(0.2*float64(s.Rate))
	for i := range dry {
		if !two {
			wet[i] = dry[i]
		}
		if i >= later {
			wet[i] += 0.5 * dry[i-later]
		}
	}
	channels := [][]float64{wet}
	if two {
		channels = [][]float64{dry, wet}
	}
	return wavOf(t, s.Rate, channels...), write(t, "signal.toml", string(text))
}

func wavOf(t *testing.T, rate preset.Hertz, channels ...[]float64) string {
	t.Helper()
	var file bytes.Buffer
	_, err := wavfile.Write(&file, rate, channels, wavfile.Float32)
	require.NoError(t, err)
	return write(t, "take.wav", file.String())
}

// quick is a signal of the kind that keeps the tests short.
func quick(kind signals.Kind) signals.Signal {
	s := signals.Default(kind)
	s.Rate = 16_000
	switch kind {
	case signals.KindSweep:
		s.Sweep.To, s.Sweep.Seconds = 7000, 5
	case signals.KindClicks:
		s.Clicks.HighCut, s.Clicks.Count, s.Clicks.Spacing = 7000, 4, 1000
	case signals.KindTone:
		s.Tone.Seconds = 8
	case signals.KindSteps:
		s.Steps.Count, s.Steps.Gap = 4, 500
	}
	return s
}

func TestFieldsOfMeasuredSignals(t *testing.T) {
	for _, c := range []struct {
		kind  signals.Kind
		two   bool
		flags []string
		names []string // of the result
		own   []string // of what is particular to the signal
	}{
		{signals.KindSweep, false, []string{"--heads", "3"}, []string{"name", "kind", "head", "direct", "origin", "warnings"}, []string{"way", "later", "harmonic"}},
		{signals.KindSweep, true, []string{"--heads", "3", "--dry-channel", "1"}, []string{"head"}, []string{"way"}},
		{signals.KindClicks, false, []string{"--heads", "3"}, []string{"name", "kind", "head", "direct", "origin", "warnings"}, []string{"way", "later"}},
		{signals.KindTone, false, nil, []string{"origin", "motion", "warnings"}, []string{"tone_hz", "speed_ratio", "level_dbfs", "measured_s", "weighted", "unweighted", "rate"}},
		{signals.KindSteps, true, []string{"--dry-channel", "1"}, []string{"origin", "warnings"}, []string{"level_in_from", "gain_db", "even_to_odd_db", "above_to_below_db", "step"}},
	} {
		t.Run(string(c.kind), func(t *testing.T) {
			take, figures := recorded(t, quick(c.kind), c.two)
			v := world(t).run(t, append([]string{"measure", take, "--signal", figures, "--json", "-q"}, c.flags...)...).decode(t)
			hasFields(t, v, append(c.names, string(c.kind))...)
			hasFields(t, v[string(c.kind)], c.own...)
			require.IsType(t, []any{}, v["warnings"])
			hasFields(t, v["origin"], "take", "take_sha256", "measured")
			if heads, ok := v["head"]; ok {
				head := hasFields(t, first(t, heads), "head", "delay_ms", "level_db", "high_cut_hz")
				require.Equal(t, 3.0, head["head"])
				require.InDelta(t, 200, head["delay_ms"], 0.01, "as it was made; 0.16 of a sample")
				require.Equal(t, 3.0, hasFields(t, first(t, v[string(c.kind)].(map[string]any)["way"]), "head", "curve")["head"])
			}
		})
	}
}

// A speed that one pass through a head cannot show is null, not 1.
func TestWhatOnePassHidesIsNull(t *testing.T) {
	take, figures := recorded(t, quick(signals.KindTone), false)
	v := world(t).run(t, "measure", take, "--signal", figures, "--through", "200", "--json", "-q").decode(t)
	tone := hasFields(t, v["tone"], "speed_ratio", "through_ms")
	require.Nil(t, tone["speed_ratio"])
	require.NotContains(t, v["motion"], "speed_ratio")
}

func TestAUnitOfOneHeadNeedsNoNamingOfIt(t *testing.T) {
	e := world(t)
	one := `format = "echowright-unit/1"
name = "one"
kind = "tape"
[[head]]
head = 3
delay_ms = 200.0
level_db = 0.0
`
	require.Equal(t, exitDone, e.run(t, "library", "add", write(t, "one.toml", one)).code)
	take, figures := recorded(t, quick(signals.KindTone), false)
	v := e.run(t, "measure", take, "--signal", figures, "--into", "one", "--json", "-q").decode(t)
	require.Equal(t, "one", v["unit"])
	require.Equal(t, 200.0, v["tone"].(map[string]any)["through_ms"])
}

func TestTonesOfHeadsStandByOctaves(t *testing.T) {
	var out bytes.Buffer
	c := &call{}
	c.out.Writer = &out
	w := response.Way{Level: -3, Curve: []response.Point{{Hz: 1000, Level: -3}, {Hz: 2000, Level: -9.04}}}
	c.printTones(preset.Unit{Heads: []preset.Head{{Head: 2}, {Head: 3, Inferred: true}}}, []response.Way{w})
	require.Contains(t, out.String(), "tone: Hz  head 2 dB\n")
	require.Contains(t, out.String(), "    1000        0.0\n    2000       -6.0\n    4000          –\n")
}

func TestNotesStandBesideEachOther(t *testing.T) {
	var out bytes.Buffer
	c := &call{}
	c.out.Writer = &out
	c.printNotes([]measure.Note{
		{Onset: 500, Heads: []preset.Head{{Head: 2, Delay: 121}, {Head: 4, Delay: 263, Level: -1}}},
		{Onset: 4500, Heads: []preset.Head{{Head: 2, Delay: 121.2}, {Head: 4, Delay: 263.4, Level: -1.2}}},
	})
	require.Equal(t, "note at s  head 2 ms    dB  head 4 ms     dB\n"+
		"     0.50     121.00  0.00     263.00  -1.00\n"+
		"     4.50     121.20  0.00     263.40  -1.20\n", out.String())
}

func TestRangesOfHeads(t *testing.T) {
	for _, c := range []struct {
		text        string
		first, last int
		ok          bool
	}{
		{"1-6", 1, 6, true}, {"3-3", 3, 3, true}, {"1-64", 1, 64, true},
		{"1-65", 0, 0, false}, {"0-6", 0, 0, false}, {"6-1", 0, 0, false}, {"1-6x", 0, 0, false},
		{"1", 0, 0, false}, {"1,6", 0, 0, false}, {"-1-6", 0, 0, false}, {" 1-6", 0, 0, false}, {"01-6", 0, 0, false},
	} {
		first, last, err := headRange(c.text)
		require.Equal(t, c.ok, err == nil, c.text)
		require.Equal(t, []int{c.first, c.last}, []int{first, last}, c.text)
	}
}

func TestARefusedSignalHasTheExitCodeOfATakeWithNothingInIt(t *testing.T) {
	require.Equal(t, exitNothing, exitCode(aboutTake("x.wav", &signals.Refusal{Problem: "silent", Do: "look"})))
	require.Equal(t, exitMisused, exitCode(aboutTake("x.wav", quick(signals.KindTone).CheckTake(signals.KindSweep, 16_000, nil, nil))))
}

func TestAToneIsNoUnitByItself(t *testing.T) {
	take, figures := recorded(t, quick(signals.KindTone), false)
	out := filepath.Join(t.TempDir(), "x.toml")
	got := world(t).run(t, "measure", take, "--signal", figures, "--out", out)
	require.Equal(t, exitMisused, got.code)
	require.NoFileExists(t, out)
}
