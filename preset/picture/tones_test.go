package picture

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

func TestHeadsOfOneToneShareACurve(t *testing.T) {
	tone := preset.Tone{LowCut: 60, HighCut: 3200}
	root := page(t, Tones{[]Response{{Head: 2, Tone: tone}, {Head: 4, Tone: tone}, {Head: 6, Tone: preset.Tone{HighCut: 1200}}}})
	require.Len(t, root.find("voice"), 2)
	entries := root.find("entry")
	require.Len(t, entries, 2)
	require.Equal(t, "heads 2, 4: low cut 60 Hz, high cut 3200 Hz", entries[0].words())
	require.Equal(t, "head 6: high cut 1200 Hz", entries[1].words())
	require.Equal(t, "head 1: no cut found", page(t, Tones{[]Response{{Head: 1}}}).find("entry")[0].words())
}

func TestCurvesThatNobodyCouldTellApartAreOne(t *testing.T) {
	a := Response{Head: 2, Tone: preset.Tone{HighCut: 4377}, Curve: []Strength{{500, 0}, {4000, -3}}}
	b := Response{Head: 4, Tone: preset.Tone{HighCut: 4399}, Curve: []Strength{{500, 0.1}, {4000, -3.1}}}
	root := page(t, Tones{[]Response{a, b}})
	require.Len(t, root.find("measured"), 1)
	require.Equal(t, "heads 2, 4: high cut 4377 to 4399 Hz", root.find("entry")[0].words())
	b.Curve[1].Level = -6
	require.Len(t, page(t, Tones{[]Response{a, b}}).find("measured"), 2)
}

// A one-pole cut has lost half the power, 3.01 dB, at its own frequency; 1 kHz lies
// far enough below 16 kHz to have lost 0.02 dB.
func TestACutLosesThreeDecibelsAtItsFrequency(t *testing.T) {
	all := Response{Tone: preset.Tone{HighCut: 16_000}}.cuts()
	require.InDelta(t, -3.01+0.02, all[len(all)-1], 0.01)
	require.InDelta(t, 0.02, all[0], 0.01)
	flat := Response{}.cuts()
	for _, v := range flat {
		require.Zero(t, v)
	}
}

func TestOneKilohertzIsMarked(t *testing.T) {
	root := page(t, Tones{[]Response{{Head: 1, Tone: preset.Tone{HighCut: 3000}}}})
	ticks := root.find("tick-x")
	x := -1.0
	for _, n := range ticks {
		if n.number(t, "data-value") == 1000 {
			x = n.tags("text")[0].number(t, "x")
			require.Equal(t, "1k", n.words())
		}
	}
	marked := root.all(func(n node) bool { return n.XMLName.Local == "line" && n.has("black") && n.attr("x1") == n.attr("x2") })
	require.Len(t, marked, 1)
	require.InDelta(t, x, marked[0].number(t, "x1"), 0.01)
	// The scale is logarithmic: 100 Hz to 1 kHz is as wide as 1 kHz to 10 kHz.
	at := map[float64]float64{}
	for _, n := range ticks {
		at[n.number(t, "data-value")] = n.tags("text")[0].number(t, "x")
	}
	require.InDelta(t, at[1000]-at[100], at[10000]-at[1000], 0.02)
}

func TestHarmonicsAreDrawnByOrder(t *testing.T) {
	root := page(t, Harmonics{Head: 4, Orders: []Order{{2, []Strength{{100, -40}, {1000, -40}}}, {3, nil}}})
	require.Len(t, root.find("order-2"), 1)
	require.Empty(t, root.find("order-3"), "what drowns is not drawn")
	require.Len(t, root.find("entry"), 1)
	require.Contains(t, page(t, Harmonics{Head: 4, Orders: []Order{{2, nil}}}).words(), "No harmonic rises out of the noise")
}

// Of tanh(k·x)/k a soft sine of amplitude a keeps a·(1−(k·a)²/4): tanh x = x − x³/3
// + …, and sin³ holds 3/4 of a sine. A very loud one becomes a square wave of
// height 1/k, whose fundamental is 4/π of it.
func TestTheModelsFundamental(t *testing.T) {
	const k = 4
	d := preset.Drive{Gain: preset.FromAmplitude(k)}
	a := 0.02
	require.InDelta(t, a*(1-k*k*a*a/4), fundamental(d, a), 1e-7, "the next term is (k·a)⁴/12·a = 7e-8")
	require.InDelta(t, 4/math.Pi/k, fundamental(d, 1e4), 1e-4, "256 steps tell a square wave's flanks that well")
	bent := preset.Drive{Gain: d.Gain, Bias: 0.3}
	require.InDelta(t, 1e-4, fundamental(bent, 1e-4), 1e-9, "unity gain for a soft sound")
}

func TestStepsStandWhereTheyWereMeasured(t *testing.T) {
	steps := []Step{{In: -40, Out: -43}, {In: -10, Out: -15, Harmonics: []preset.Percent{3, 1}}}
	root := page(t, Transfer{Steps: steps, Gain: -3})
	require.Len(t, root.find("step"), 2)
	require.Empty(t, root.find("model"), "without a drive no model")
	require.Contains(t, root.words(), "less than 1 dB")
	straight := root.find("straight")[0].tags("line")[0]
	at, db := read(t, root, "tick-x", "x"), read(t, root, "tick-y", "y")
	for _, end := range []string{"1", "2"} {
		in, out := at(straight.number(t, "x"+end)), db(straight.number(t, "y"+end)+4)
		require.InDelta(t, in-3, out, 0.05, "what goes in less 3 dB")
	}
	shares := page(t, StepHarmonics{Steps: steps, EvenToOdd: -12.9, AboveToBelow: 0.5})
	require.Len(t, shares.find("order-2"), 1)
	require.Contains(t, shares.words(), "the even ones lie −12.9 dB to the odd ones and the upper peak 0.5 dB to the lower")
}

func TestRatesStandByTheirFrequency(t *testing.T) {
	root := page(t, Rates{[]Rate{{0.9, 0.2, "0.9 Hz: once per turn"}, {8.3, 0.05, ""}}})
	rates := root.find("rate")
	require.Len(t, rates, 2)
	require.Equal(t, "0.90 Hz", rates[0].words())
	require.Contains(t, root.words(), "The strongest, 0.9 Hz: once per turn.")
	require.Contains(t, page(t, Rates{}).words(), "No steady rate")
}
