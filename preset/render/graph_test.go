package render

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// impulse is a click of 1 and silence.
func impulse(n int) []float64 {
	x := make([]float64, n)
	x[0] = 1
	return x
}

// Whole samples, no tone: the responses are written out by hand. Amplitudes of one
// half are -20·log10(2) dB.
func TestImpulseResponsesOfWholeSamples(t *testing.T) {
	half := preset.FromAmplitude(0.5)
	quarter := preset.FromAmplitude(0.25)
	for _, c := range []struct {
		name string
		p    preset.Pattern
		wet  bool
		want map[int]float64
	}{
		{"one head", preset.Pattern{Taps: []preset.Tap{{Delay: samples(100)}}}, false, map[int]float64{0: 1, 100: 1}},
		{"wet alone", preset.Pattern{Taps: []preset.Tap{{Delay: samples(100), Level: half}}}, true, map[int]float64{100: 0.5}},
		{
			"two heads, one inverted, 6 dB below the direct sound",
			preset.Pattern{Taps: []preset.Tap{{Delay: samples(60)}, {Delay: samples(90), Level: half, Inverted: true}}, EchoToDirect: &half}, false,
			map[int]float64{0: 1, 60: 0.5, 90: -0.25},
		},
		{
			// The memory holds 1 at 0, ½ at 80, ¼ at 160 …; the head reads it 80 later.
			"a loop",
			preset.Pattern{Taps: []preset.Tap{{Delay: samples(80)}}, Returns: []preset.Return{{Delay: samples(80), Gain: half}}}, true,
			map[int]float64{80: 1, 160: 0.5, 240: 0.25, 320: 0.125, 400: 0.0625, 480: 0.03125},
		},
		{
			// The loop's head is not heard: m = 1 at 0, −¼ at 150, 1/16 at 300, −1/64 at 450.
			"a loop that turns the sign, from a head that is not heard",
			preset.Pattern{Taps: []preset.Tap{{Delay: samples(50)}}, Returns: []preset.Return{{Delay: samples(150), Gain: quarter, Inverted: true}}}, true,
			map[int]float64{50: 1, 200: -0.25, 350: 0.0625},
		},
		{
			// Two ways round: m = 1 at 0, ½ at 100, ¼ at 170; ¼ at 200, 2·⅛ at 270, 1/16 at 340; ⅛ at 300,
			// 3·1/16 at 370 …
			"a loop from two heads",
			preset.Pattern{
				Taps:    []preset.Tap{{Delay: samples(30)}},
				Returns: []preset.Return{{Delay: samples(100), Gain: half}, {Delay: samples(170), Gain: quarter}},
			}, true,
			map[int]float64{30: 1, 130: 0.5, 200: 0.25, 230: 0.25, 300: 0.25, 330: 0.125, 370: 0.0625, 400: 0.1875, 430: 0.0625, 470: 0.09375},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			direct := 1.0
			if c.wet {
				direct = 0
			}
			y := rendered(t, Machine{Pattern: c.p, Direct: direct}.Graph(), Options{}, impulse(481))
			for i, v := range y {
				require.InDelta(t, c.want[i], v, 1e-12, "sample %d", i)
			}
		})
	}
}

// With a tone the response of the first echo is the tone's: h·(1−h) for a high cut,
// and repeats have passed it again. The corner of a one-pole without a zero:
// h = b − √(b²−1), b = 2 − cos ω.
func TestATurnPassesTheToneOnceMore(t *testing.T) {
	tone := preset.Tone{HighCut: 3000}
	g := Machine{Pattern: preset.Pattern{
		Taps:    []preset.Tap{{Delay: samples(200), Tone: tone}},
		Returns: []preset.Return{{Delay: samples(200), Gain: -6, Tone: tone}},
	}}.Graph()
	y := rendered(t, g, Options{}, impulse(620))
	b := 2 - math.Cos(2*math.Pi*3000/rate)
	h := b - math.Sqrt(b*b-1)
	in := (1 - h) / at1k(h)
	loop := preset.Decibels(-6).Amplitude()
	for i := range 180 {
		n := float64(i)
		require.InDelta(t, in*math.Pow(h, n), y[200+i], 1e-12)
		require.InDelta(t, loop*in*in*(n+1)*math.Pow(h, n), y[400+i], 1e-12, "two poles")
	}
}

// at1k is the magnitude of (1−h)/(1−h·z⁻¹) at 1 kHz.
func at1k(h float64) float64 {
	w := 2 * math.Pi * 1000 / rate
	return (1 - h) / math.Hypot(1-h*math.Cos(w), h*math.Sin(w))
}

// A sine of 1 kHz comes back at the level that the profile states, whatever the
// tone, every turn; and at the corner half of the power is left of what the middle
// has.
func TestLevelsAreAt1kHzAndCornersHalveThePower(t *testing.T) {
	tone := preset.Tone{LowCut: 120, HighCut: 2500}
	f := newFilter(tone, true, rate)
	require.InDelta(t, 1, f.magnitude(1000), 1e-12)
	for _, r := range []float64{44_100, 48_000, 96_000, 192_000} {
		low, high := newFilter(preset.Tone{LowCut: 120}, false, r), newFilter(preset.Tone{HighCut: 2500}, false, r)
		require.InDelta(t, math.Sqrt2/2, low.magnitude(120), 1e-9)
		require.InDelta(t, math.Sqrt2/2, high.magnitude(2500), 1e-9)
		require.InDelta(t, 1, high.magnitude(0.001), 1e-6)
		for _, hz := range []preset.Hertz{60, 300, 1000, 3000} { // below a tenth of the rate the formula of preset.Tone holds within 0.2 dB
			both := newFilter(tone, false, r)
			require.InDelta(t, float64(preset.FromAmplitude(tone.Magnitude(hz))), 20*math.Log10(both.magnitude(float64(hz))), 0.2, "%v at %v", hz, r)
		}
	}
	level := preset.Decibels(-3)
	p := preset.Pattern{Taps: []preset.Tap{{Delay: samples(960.4), Tone: tone}}, EchoToDirect: &level}
	y := rendered(t, Machine{Pattern: p}.Graph(), Options{}, sineWave(9600, 2*math.Pi*1000/rate, 0))
	require.InDelta(t, level.Amplitude(), peak(y[4800:]), 2e-4)
}

func peak(x []float64) float64 {
	top := 0.0
	for _, v := range x {
		top = math.Max(top, math.Abs(v))
	}
	return top
}

// Heads of different tone have memories of their own, and a head sounds the same
// whether the others differ from it or not.
func TestHeadsOfDifferentToneSoundAsTheyWouldAlone(t *testing.T) {
	dull, bright := preset.Tone{HighCut: 1500}, preset.Tone{LowCut: 200, HighCut: 6000}
	tap := func(d float64, t preset.Tone) preset.Tap { return preset.Tap{Delay: samples(d), Tone: t} }
	back := preset.Return{Delay: samples(301.5), Gain: -4, Tone: dull}
	x := noise(2000, 1)
	one := Machine{Pattern: preset.Pattern{Taps: []preset.Tap{tap(301.5, dull)}, Returns: []preset.Return{back}}}
	other := Machine{Pattern: preset.Pattern{Taps: []preset.Tap{tap(130.25, bright)}, Returns: []preset.Return{back}}}
	both := Machine{Pattern: preset.Pattern{Taps: []preset.Tap{tap(301.5, dull), tap(130.25, bright)}, Returns: []preset.Return{back}}}
	require.Len(t, both.Graph().Nodes, 3)
	a, b, sum := rendered(t, one.Graph(), Options{}, x), rendered(t, other.Graph(), Options{}, x), rendered(t, both.Graph(), Options{}, x)
	for i := range sum {
		require.InDelta(t, a[i]+b[i], sum[i], 1e-12)
	}
}

func noise(n int, seed uint64) []float64 {
	random := rand.New(rand.NewPCG(seed, 9))
	x := make([]float64, n)
	for i := range x {
		x[i] = 0.5 * (2*random.Float64() - 1)
	}
	return x
}

// Nodes one after the other with hardly a delay between them: the output waits for
// what reading between samples must see ahead, and says how long.
func TestShortDelaysBetweenNodesCostLatencyAndNoMore(t *testing.T) {
	g := Graph{
		Nodes: []Node{{From: []Path{{From: Input, Delay: samples(0.5), Gain: 1}}}, {From: []Path{{From: 0, Delay: samples(3.25), Gain: 1}}}},
		Heard: []Path{{From: 1, Delay: samples(0.75), Gain: 1}, {From: Input, Gain: 1}},
	}
	r, err := New(g, Options{Rate: rate, Channels: 1})
	require.NoError(t, err)
	require.Positive(t, r.Latency())
	require.Less(t, r.Latency(), 3*ahead)
	turn := 2 * math.Pi * 0.03
	y := rendered(t, g, Options{}, sineWave(800, turn, 0))
	for i := 400; i < 700; i++ { // 0.5 + 3.25 + 0.75 samples, and the direct sound beside it
		require.InDelta(t, math.Sin(turn*(float64(i)-4.5))+math.Sin(turn*float64(i)), y[i], 3e-4)
	}
}

func TestALoopTooShortIsRefused(t *testing.T) {
	loop := func(d preset.Millis, drive *preset.Drive) Graph {
		return Graph{Nodes: []Node{{From: []Path{{From: Input, Gain: 1}, {From: 0, Delay: d, Gain: 0.5}}, Drive: drive}}, Heard: []Path{{From: 0, Gain: 1}}}
	}
	for _, c := range []struct {
		name  string
		g     Graph
		wrong string
	}{
		{"a millisecond", loop(1, nil), ""},
		{"a third of one", loop(0.33, nil), "node 0: a loop of 0.33 ms is too short to be rendered at 48000 Hz: 0.396 ms at the least"},
		{"hardly more than a millisecond with drive", loop(1.01, &preset.Drive{}), "too short to be rendered"},
		{"two milliseconds with drive", loop(2, &preset.Drive{}), ""},
	} {
		_, err := New(c.g, Options{Rate: rate, Channels: 1})
		if c.wrong == "" {
			require.NoError(t, err, c.name)
			continue
		}
		require.ErrorContains(t, err, c.wrong, c.name)
	}
}

// The gain of a turn is reckoned at the frequency where it is the greatest: a tone
// levelled at 1 kHz lets something else pass more.
func TestLoopGainIsTheGreatestOfAnyFrequency(t *testing.T) {
	tone := preset.Tone{LowCut: 50, HighCut: 2000}
	with := func(gain preset.Decibels, t preset.Tone, more ...preset.Return) Graph {
		p := preset.Pattern{Taps: []preset.Tap{{Delay: 100, Tone: t}}, Returns: append([]preset.Return{{Delay: 100, Gain: gain, Tone: t}}, more...)}
		return Machine{Pattern: p}.Graph()
	}
	plain := preset.Tone{}
	// 1 kHz is half of the high cut: 10·log10(1 + ¼) = 0.97 dB are lost there; the
	// low cut takes 0.01 dB, and at 316 Hz, the best place, 0.2 dB are lost in all.
	for _, c := range []struct {
		name string
		g    Graph
		want float64
	}{
		{"no loop", Machine{Pattern: preset.Pattern{Taps: []preset.Tap{{Delay: 100}}}}.Graph(), math.Inf(-1)},
		{"plain", with(-6, plain), -6},
		{"with a tone", with(-6, tone), -6 + 0.97 + 0.01 - 0.21},
		{"two ways of one half", with(preset.FromAmplitude(0.5), plain, preset.Return{Delay: 70, Gain: preset.FromAmplitude(0.5)}), 0},
	} {
		if math.IsInf(c.want, -1) {
			require.Equal(t, c.want, float64(c.g.LoopGain(rate)), c.name)
			continue
		}
		require.InDelta(t, c.want, float64(c.g.LoopGain(rate)), 0.05, c.name)
	}
}

func TestALoopThatHowlsStaysBounded(t *testing.T) {
	for _, gain := range []preset.Decibels{0, 3, 12} {
		g := Machine{Pattern: preset.Pattern{Taps: []preset.Tap{{Delay: 20}}, Returns: []preset.Return{{Delay: 20, Gain: gain}}}}.Graph()
		r, err := New(g, Options{Rate: rate, Channels: 1})
		require.NoError(t, err)
		require.True(t, r.Howls())
		x := noise(48_000*4, 3)
		require.NoError(t, r.Process([][]float64{x}, [][]float64{x}))
		require.LessOrEqual(t, peak(x), 1.5+1e-9, "the input's half and full scale")
		require.Positive(t, r.Limited())
	}
	quiet := Machine{Pattern: preset.Pattern{Taps: []preset.Tap{{Delay: 20}}, Returns: []preset.Return{{Delay: 20, Gain: -0.5}}}}.Graph()
	r, err := New(quiet, Options{Rate: rate, Channels: 1})
	require.NoError(t, err)
	require.False(t, r.Howls())
	require.Zero(t, r.Limited())
}

func TestWhatCannotBeRenderedIsRefused(t *testing.T) {
	good := Graph{Heard: []Path{{From: Input, Gain: 1}}}
	loud := preset.Decibels(6)
	nan := preset.Decibels(math.NaN())
	for _, c := range []struct {
		wrong string
		g     Graph
		o     Options
	}{
		{"a sample rate of 4000 Hz", good, Options{Rate: 4000, Channels: 1}},
		{"a sample rate of NaN Hz", good, Options{Rate: preset.Hertz(math.NaN()), Channels: 1}},
		{"0 channels: 1 to", good, Options{Rate: rate}},
		{"noise of 6 dB", good, Options{Rate: rate, Channels: 1, Noise: &loud}},
		{"noise of NaN dB", good, Options{Rate: rate, Channels: 1, Noise: &nan}},
		{"a path from node 3", Graph{Heard: []Path{{From: 3}}}, Options{Rate: rate, Channels: 1}},
		{"a delay of -1 ms", Graph{Heard: []Path{{From: Input, Delay: -1}}}, Options{Rate: rate, Channels: 1}},
		{"a gain of NaN", Graph{Heard: []Path{{From: Input, Gain: math.NaN()}}}, Options{Rate: rate, Channels: 1}},
		{"node 0: a cut at -5 Hz", Graph{Nodes: []Node{{Tone: preset.Tone{LowCut: -5}}}}, Options{Rate: rate, Channels: 1}},
		{"drive of 90 dB", Graph{Nodes: []Node{{Drive: &preset.Drive{Gain: 90}}}}, Options{Rate: rate, Channels: 1}},
		{"wow of 40 %", Graph{Motion: &preset.Motion{WowPercent: 40, WowHz: 1}}, Options{Rate: rate, Channels: 1}},
	} {
		_, err := New(c.g, c.o)
		require.ErrorContains(t, err, c.wrong)
	}
	r, err := New(good, Options{Rate: rate, Channels: 2})
	require.NoError(t, err)
	x := []float64{0, 0.5, math.NaN()}
	require.ErrorContains(t, r.Process([][]float64{x, x}, [][]float64{x, x}), "sample 3 of channel 1 is NaN")
	require.ErrorContains(t, r.Process([][]float64{x}, [][]float64{x}), "1 channels into 1, where 2 were announced")
	require.ErrorContains(t, r.Process([][]float64{x, x}, [][]float64{x[:2], x[1:]}), "all of one length")
}
