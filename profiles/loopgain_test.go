package profiles

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"echowright/midi"
)

// Worked by hand from the manuals of the shipped devices.
func TestLoopGainInClosedForm(t *testing.T) {
	decibels := func(amplitude float64) float64 { return 20 * math.Log10(amplitude) }
	none := math.Inf(-1)
	for _, c := range []struct {
		name, device string
		codes        map[string]int
		want         float64
	}{
		{"one line is its feedback", "five-line", map[string]int{"a-time": 1000, "a-feedback": 64}, decibels(0.5)},
		{"its level is not in the loop", "five-line", map[string]int{"a-time": 1000, "a-feedback": 64, "a-level": 1}, decibels(0.5)},
		{"nor do its cuts count", "five-line", map[string]int{"a-time": 1000, "a-feedback": 64, "a-high-cut": 0, "a-low-cut": 31}, decibels(0.5)},
		{"of two lines the stronger", "five-line", map[string]int{"a-feedback": 64, "b-feedback": 96}, decibels(0.75)},
		{"of a chain too: no way leads back", "five-line", map[string]int{"a-feedback": 64, "b-feedback": 32, "b-source": 1}, decibels(0.5)},
		// a and b hand all that they have to each other: one turn of two passes at full gain
		{"sources in a circle", "five-line", map[string]int{"a-source": 2, "b-source": 1}, 0},
		// [½ 1; 1 ½] has the eigenvalues ½ ± 1
		{"and their own loops beside", "five-line", map[string]int{"a-source": 2, "b-source": 1, "a-feedback": 64, "b-feedback": 64}, decibels(1.5)},
		{"no feedback", "five-line", nil, none},
		// 1.10·115/127 = 0.99606, 1.10·116/127 = 1.00472
		{"the highest code below unity", "tap-loop", map[string]int{"feedback": 115}, decibels(1.10 * 115 / 127)},
		{"the lowest above it", "tap-loop", map[string]int{"feedback": 116}, decibels(1.10 * 116 / 127)},
		{"a tap before its level", "tap-loop", map[string]int{"feedback": 100, "feedback-tap": 3, "tap-3-level": 1}, decibels(1.10 * 100 / 127)},
		// 0.7·(10^(−6.3/20) + 10^(−2.3/20)), whatever the signs; taps at rest are −102.3 dB: 2·10^(−102.3/20) more
		{"a sum of taps without their signs", "open-parameter",
			map[string]int{"feedback": 700, "tap-1-level": 960, "tap-2-level": 1000, "tap-2-polarity": 1},
			decibels(0.7 * (math.Pow(10, -6.3/20) + math.Pow(10, -2.3/20) + 2*math.Pow(10, -102.3/20)))},
		// 0.99·(127 − 64)/63 = 0.99, the third tap 6 dB down; the second is not in the loop
		{"one tap behind its level", "two-by-three", map[string]int{"b-feedback": 127, "b-tap-3-level": 12, "b-tap-2-level": 0}, decibels(0.99) - 6},
		{"a feedback with its sign turned", "two-by-three", map[string]int{"a-feedback": 1, "a-tap-3-level": 12}, decibels(0.99) - 6},
		{"a line that follows the clock", "twin", map[string]int{"line-2-feedback": 127, "line-2-clocked-time": 4}, decibels(0.98)},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, err := Shipped(c.device)
			require.NoError(t, err)
			s := d.Rest()
			for name, code := range c.codes {
				require.NotEqual(t, None, d.Parameter(name), name)
				s.Codes[d.Parameter(name)] = code
			}
			got := float64(d.LoopGain(s))
			if math.IsInf(c.want, -1) {
				require.Equal(t, c.want, got)
				return
			}
			require.InDelta(t, c.want, got, 1e-9, "but for the rounding of the arithmetic")
		})
	}
}

// A tap that is switched off is not fed back; one that no code of its note value
// leaves is.
const tapsWithNotes = `format = "echowright-device/1"
name = "notes"
[manners]
[scale.notes]
codes = [0, 2]
off = 0
notes = ["1/4", "1/8"]
[scale.gain]
unit = "dB"
codes = [0, 127]
silent = 0
amplitude = { full = 127 }
[loop]
from = "sum"
level = "after"
[tap]
names = ["x", "y"]
control_step = 1
[[tap.parameter]]
role = "note"
name = "note"
scale = "notes"
of = "clock"
control = 10
[[tap.parameter]]
role = "level"
scale = "gain"
control = 20
[line]
names = ["memory"]
[[line.parameter]]
role = "feedback"
scale = "gain"
control = 30
`

func TestLoopGainOfTapsSwitchedOff(t *testing.T) {
	d := parsed(t, tapsWithNotes)
	s := setting(t, d, map[string]int{"feedback": 127, "x-level": 127, "y-level": 127})
	require.True(t, math.IsInf(float64(d.LoopGain(s)), -1), "both are off")
	s.Codes[d.Parameter("x-note")] = 1
	_, err := d.Network(s)
	require.ErrorIs(t, err, ErrClock)
	require.InDelta(t, 0, float64(d.LoopGain(s)), 1e-9)
	s.Codes[d.Parameter("y-note")] = 2
	require.InDelta(t, 6.0206, float64(d.LoopGain(s)), 1e-4, "twice as much: 20·log10 2")
}

// Shares of one that make one: 1/127 + 126/127, 2/127 + 125/127 …, of which most are
// off in the last digits. A loop at unity is told from one just below it.
func TestLoopGainAtUnityIsExact(t *testing.T) {
	d := parsed(t, tapsWithNotes)
	for k := 1; k < 127; k++ {
		s := setting(t, d, map[string]int{"x-note": 1, "y-note": 2, "feedback": 127, "x-level": k, "y-level": 127 - k})
		require.Zero(t, d.LoopGain(s), "%d and %d of 127", k, 127-k)
		s.Codes[d.Parameter("feedback")] = 126
		require.Less(t, float64(d.LoopGain(s)), -0.06, "20·log10(126/127) = −0.0687")
	}
}

// The comb filter y(n) = x(n) + g·y(n−M) has its poles on a circle of the radius
// |g|^(1/M) (textbook: they solve zᴹ = g). Here the poles are found as the
// eigenvalues of the companion matrix, by a library that knows nothing of loops.
func TestLoopGainIsWhatThePolesOfACombSay(t *testing.T) {
	for _, c := range []struct{ code, delay int }{{64, 3}, {64, 17}, {127, 5}, {20, 40}} {
		d := fiveLine(t)
		s := setting(t, d, map[string]int{"a-time": c.delay, "a-feedback": c.code})
		radius := largestPole(map[int]float64{c.delay: float64(c.code) / 128})
		// M·20·log10(radius): M-fold roots lose no more than a few of sixteen digits.
		require.InDelta(t, float64(c.delay)*20*math.Log10(radius), float64(d.LoopGain(s)), 1e-6)
	}
}

// Whatever the times: a sum of taps whose loop gain lies below unity has all its
// poles inside the unit circle, with any signs; above unity and all signs normal
// one lies outside.
func TestNoLoopBelowUnityHowls(t *testing.T) {
	d := openParameter(t)
	random := rand.New(rand.NewPCG(11, 1))
	below, above := 0, 0
	for range 300 {
		s := d.Rest()
		ways := map[int]float64{}
		normal := random.IntN(2) == 0
		s.Codes[d.Parameter("feedback")] = 300 + random.IntN(701)
		for _, l := range d.Lines[0].Taps {
			s.Codes[l.Parameter(RoleTime)] = 1 + random.IntN(24) // tenths of a millisecond are samples here
			s.Codes[l.Parameter(RoleLevel)] = 823 + random.IntN(201)
			if !normal {
				s.Codes[l.Parameter(RolePolarity)] = random.IntN(2)
			}
			ways[s.Codes[l.Parameter(RoleTime)]] += d.Heard(d.Lines[0], l, s) * d.Feedback(d.Lines[0], s)
		}
		gain, radius := float64(d.LoopGain(s)), largestPole(ways)
		switch {
		case gain < -0.01:
			below++
			require.Less(t, radius, 1.0, "%v dB: %v", gain, s.Codes)
		case gain > 0.01 && normal:
			above++
			require.Greater(t, radius, 1.0, "%v dB: %v", gain, s.Codes)
		}
	}
	require.Greater(t, below, 30)
	require.Greater(t, above, 30)
}

// largestPole is the greatest amount of a root of 1 = Σ a_k·z^(−k).
func largestPole(ways map[int]float64) float64 {
	order := 0
	for k := range ways {
		order = max(order, k)
	}
	companion := mat.NewDense(order, order, nil)
	for k, a := range ways {
		companion.Set(0, k-1, a)
	}
	for i := 1; i < order; i++ {
		companion.Set(i, i-1, 1)
	}
	return largestEigenvalue(companion)
}

func largestEigenvalue(m mat.Matrix) float64 {
	var e mat.Eigen
	if !e.Factorize(m, mat.EigenNone) {
		return math.NaN()
	}
	most := 0.0
	for _, v := range e.Values(nil) {
		most = max(most, cmplx.Abs(v))
	}
	return most
}

// Lines that feed each other, against the eigenvalues that gonum finds.
func TestSpectralRadius(t *testing.T) {
	random := rand.New(rand.NewPCG(12, 1))
	for range 300 {
		n := 1 + random.IntN(6)
		dense := mat.NewDense(n, n, nil)
		a := make([][]float64, n)
		for i := range a {
			a[i] = make([]float64, n)
			for k := range a[i] {
				if random.IntN(3) == 0 {
					a[i][k] = random.Float64() * math.Pow(10, float64(random.IntN(4)-2))
				}
				dense.Set(i, k, a[i][k])
			}
		}
		want := largestEigenvalue(dense)
		// A root of several in one place is known to the n-th root of the digits that
		// gonum has: 10^(−16/6) of what the matrix holds at the worst.
		require.InDelta(t, want, spectralRadius(a), 3e-3*(norm(a)+1e-12), "%v", a)
	}
	require.Zero(t, spectralRadius([][]float64{{0, 1}, {0, 0}}), "a way that does not come back")
	require.InDelta(t, 0.5, spectralRadius([][]float64{{0.5, 1}, {0, 0.5}}), 1e-12, "a chain of two equal loops")
}

// What sounds is turned down in the order of harm, and nothing else is touched.
func TestMuteSteps(t *testing.T) {
	for name, want := range map[string]string{
		"five-line": "a-feedback b-feedback c-feedback d-feedback e-feedback a-level b-level c-level d-level e-level",
		"tap-loop":  "feedback tap-0-level tap-1-level tap-2-level tap-3-level tap-4-level tap-5-level tap-6-level tap-7-level",
		"twin":      "line-1-feedback line-2-feedback mix line-1-level line-2-level",
		"two-by-three": "a-feedback b-feedback a-tap-1-level a-tap-2-level a-tap-3-level " +
			"b-tap-1-level b-tap-2-level b-tap-3-level",
		"open-parameter": "feedback tap-1-level tap-2-level tap-3-level tap-4-level",
	} {
		t.Run(name, func(t *testing.T) {
			d, err := Shipped(name)
			require.NoError(t, err)
			unit := d.Manners.FirstUnit
			steps, err := d.MuteSteps(unit)
			require.NoError(t, err)
			decoder := d.Decoder(unit)
			var said []string
			for _, s := range steps {
				require.NoError(t, s.Check())
				for _, told := range decodeAll(decoder, s.Send) {
					p := d.Parameters[told.Parameter]
					said = append(said, p.Name)
					require.Less(t, p.Scale.Amplitude(told.Code), 1e-5, "%s: 100 dB down or silent", p.Name)
				}
			}
			require.Equal(t, want, strings.Join(said, " "))
		})
	}
	mute := parsed(t, longMemory)
	steps, err := mute.MuteSteps(0)
	require.NoError(t, err)
	require.Empty(t, steps, "nothing of it can be set alone")
}

// A level without a code for silence goes to its softest, not to its rest: that of
// a mix lets all through.
func TestWhatCannotBeSilentIsSoftest(t *testing.T) {
	d := parsed(t, oneLine("", "control = 1", "127")+`
[scale.mix]
unit = "dB"
codes = [0, 100]
linear = { code = 0, is = 0.0, step = -0.5 }
[[parameter]]
name = "mix"
role = "mix"
scale = "mix"
control = 9
`)
	steps, err := d.MuteSteps(1)
	require.NoError(t, err)
	require.Len(t, steps, 1)
	require.Equal(t, "B0 09 64", midi.Hex(steps[0].Send), "code 100: 50 dB down")
}
