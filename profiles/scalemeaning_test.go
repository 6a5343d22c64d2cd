package profiles

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// meanings are codes and what they mean, worked by hand from the formula that
// the case states. A number is told to within 0.001.
type meanings map[int]Value

func n(v float64) Value        { return Value{Number: v} }
func word(w string) Value      { return Value{Word: w} }
func inverted(v float64) Value { return Value{Number: v, Inverted: true} }

func TestEveryShapeOfScale(t *testing.T) {
	for _, c := range []struct {
		name, text, unit string
		want             meanings
	}{
		{"linear, told in seconds", `
unit = "s"
codes = [0, 20]
linear = { code = 10, is = 1.0, step = 0.05 }`, "ms", // 1000 + 50·(code − 10)
			meanings{0: n(500), 10: n(1000), 20: n(1500)}},
		{"falling: the sense is inverted", `
unit = "ms"
codes = [0, 127]
linear = { code = 127, is = 0.0, step = -2.0 }`, "ms", // 2·(127 − code)
			meanings{0: n(254), 64: n(126), 127: n(0)}},
		{"samples at 32 kHz, 32 a millisecond", `
unit = "samples"
sample_rate_hz = 32000
codes = [0, 16383]
linear = { code = 0, is = 16.0, step = 4.0 }`, "ms", // (16 + 4·code)/32
			meanings{0: n(0.5), 4: n(1), 4092: n(512)}},
		{"steps of decibels", `
unit = "dB"
codes = [0, 60]
silent = 0
linear = { code = 60, is = 0.0, step = 1.5 }`, "dB",
			meanings{0: word("silent"), 1: n(-88.5), 58: n(-3), 60: n(0)}},
		{"amplitude over unity", `
unit = "dB"
codes = [0, 127]
silent = 0
amplitude = { full = 127, is = 1.10 }`, "dB", // 20·log10(1.10·code/127): 115 → 0.99606, 116 → 1.00472
			meanings{115: n(-0.0343), 116: n(0.0409), 127: n(0.8279)}},
		{"squared", `
unit = "dB"
codes = [0, 127]
silent = 0
squared = { full = 127 }`, "dB", // 40·log10(code/127): 64/127 = 0.503937
			meanings{0: word("silent"), 1: n(-84.1521), 64: n(-11.9049), 127: n(0)}},
		{"exponential", `
unit = "kHz"
codes = [0, 12]
exponential = { code = 0, is = 0.125, codes_per_octave = 2.0 }`, "Hz", // 125·2^(code/2)
			meanings{0: n(125), 2: n(250), 3: n(353.553), 12: n(8000)}},
		{"between two corners, evenly growing", `
unit = "Hz"
codes = [0, 127]
piecewise = [[0, 800.0], [127, 16000.0]]
between = "exponential"`, "Hz", // 800·20^(code/127): code 64 → 20^0.503937 = e^1.509660 = 4.525193
			meanings{0: n(800), 64: n(3620.1545), 127: n(16000)}},
		{"corners with straight lines between them", `
unit = "ms"
codes = [0, 100]
piecewise = [[0, 0], [50, 100], [80, 400], [100, 2000]]`, "ms",
			meanings{25: n(50), 50: n(100), 65: n(250), 80: n(400), 90: n(1200), 100: n(2000)}},
		{"a table, with codes that mean nothing and codes that mean the same", `
unit = "ms"
codes = [0, 7]
off = 0
holes = 3
same = [5, 7]
table = [10.0, 20.0, 40.0, 80.0]`, "ms",
			meanings{0: word("off"), 1: n(10), 2: n(20), 4: n(40), 5: n(80), 6: n(80), 7: n(80)}},
		{"silent from both ends", `
unit = "dB"
codes = [0, 9]
silent = [[0, 1], [8, 9]]
linear = { code = 7, is = 0.0, step = 6.0 }`, "dB",
			meanings{0: word("silent"), 1: word("silent"), 2: n(-30), 7: n(0), 9: word("silent")}},
		{"feedback with its sign, in halves of 64", `
unit = "dB"
codes = [0, 127]
silent = 64
amplitude = { full = 128, zero = 64 }`, "dB", // (code − 64)/64
			meanings{0: inverted(0), 32: inverted(-6.0206), 63: inverted(-36.1236), 64: word("silent"), 65: n(-36.1236), 96: n(-6.0206), 127: n(-0.1368)}},
		{"feedback with its sign, in hundredths", `
unit = "amplitude"
codes = [0, 198]
silent = 99
linear = { code = 99, is = 0.0, step = -0.01 }`, "dB", // 0.01·(99 − code)
			meanings{0: n(-0.0873), 49: n(-6.0206), 98: n(-40), 100: inverted(-40), 198: inverted(-0.0873)}},
		{"a share in a hundred", `
unit = "%"
codes = [1, 100]
linear = { code = 0, is = 0.0, step = 1.0 }`, "%",
			meanings{1: n(1), 100: n(100)}},
		{"a share of one", `
unit = "fraction"
codes = [0, 64]
linear = { code = 0, is = 0.0, step = 0.015625 }`, "%", // code/64
			meanings{16: n(25), 64: n(100)}},
		{"note values in no order, in quarter notes", `
codes = [0, 4]
off = 0
notes = ["1/4", "1/4.", "1/8t", "1/1"]`, "beats", // dotted ×1.5, triplet ×2/3
			meanings{0: word("off"), 1: n(1), 2: n(1.5), 3: n(0.3333), 4: n(4)}},
		{"a switch of half the codes each way", `
choices = ["normal", "inverted"]
ranges = [[0, 63], [64, 127]]`, "",
			meanings{0: word("normal"), 63: word("normal"), 64: word("inverted"), 127: word("inverted")}},
		{"choices from code 3", `
codes = [3, 5]
choices = ["low", "mid", "high"]`, "",
			meanings{3: word("low"), 5: word("high")}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := scaleOf(t, c.text)
			require.Equal(t, c.unit, s.Unit)
			for code, want := range c.want {
				require.True(t, s.Holds(code))
				got := s.Value(code)
				require.InDelta(t, want.Number, got.Number, 0.001, "code %d", code)
				require.Equal(t, want.Word, got.Word, "code %d", code)
				require.Equal(t, want.Inverted, got.Inverted, "code %d", code)
			}
		})
	}
}

func TestHolesAreNoCodes(t *testing.T) {
	s := scaleOf(t, "unit = \"ms\"\ncodes = [0, 9]\nholes = [[2, 3], [9, 9]]\nlinear = { code = 0, is = 0.0, step = 1.0 }")
	for code := -1; code <= 10; code++ {
		require.Equal(t, code == 0 || code == 1 || code >= 4 && code <= 8, s.Holds(code), "code %d", code)
	}
	require.Equal(t, []int{0, 1, 4, 5, 6, 7, 8}, s.Rising())
	narrowest, widest := s.Steps()
	require.Equal(t, []float64{1, 3}, []float64{narrowest, widest}, "from 1 ms to 4 ms over the hole")
	gaps := scaleOf(t, "choices = [\"off\", \"on\"]\nranges = [[0, 10], [100, 127]]")
	require.True(t, gaps.Holds(10))
	require.False(t, gaps.Holds(50), "between the ranges")
}

func TestOneCodeForEachMeaning(t *testing.T) {
	turn := scaleOf(t, "choices = [\"normal\", \"inverted\"]\nranges = [[0, 63], [64, 127]]")
	require.Equal(t, []string{"normal", "inverted"}, turn.Words())
	code, ok := turn.Choose("inverted")
	require.True(t, ok)
	require.Equal(t, 64, code, "the first of those that mean it")
	_, ok = turn.Choose("")
	require.False(t, ok)

	flat := scaleOf(t, "unit = \"dB\"\ncodes = [0, 9]\nsilent = [0, 2]\nsame = [7, 9]\nlinear = { code = 7, is = 0.0, step = 3.0 }")
	require.Equal(t, []int{3, 4, 5, 6, 7}, flat.Rising())
	require.Equal(t, 7, flat.Nearest(20))
	code, ok = flat.Silent()
	require.True(t, ok)
	require.Zero(t, code)
}

func TestNearestOfBothSigns(t *testing.T) {
	s := scaleOf(t, "unit = \"dB\"\ncodes = [0, 127]\nsilent = 64\namplitude = { full = 128, zero = 64 }")
	require.Equal(t, 96, s.Nearest(-6.02), "half of full above 64")
	code, ok := s.NearestInverted(-6.02)
	require.True(t, ok)
	require.Equal(t, 32, code, "half of full below it")
	require.InDelta(t, 0.5, s.Amplitude(96), 1e-12)
	require.InDelta(t, -0.5, s.Amplitude(32), 1e-12)
	require.Len(t, s.Inverted(), 64)
	require.Equal(t, "-6.020599913279624 inverted", s.Value(32).String())
	_, ok = scaleOf(t, "choices = [\"x\"]").NearestInverted(0)
	require.False(t, ok)
	// Where codes fall, those that turn the sign stand above.
	falling := scaleOf(t, "unit = \"amplitude\"\ncodes = [0, 4]\nsilent = 2\nlinear = { code = 2, is = 0.0, step = -0.5 }")
	require.Equal(t, []int{1, 0}, falling.Rising())
	require.Equal(t, []int{3, 4}, falling.Inverted())
}

// Notes in any order are found by their length.
func TestNearestNoteValue(t *testing.T) {
	s := shippedDevice(t, "twin")
	clocked := s.Parameters[s.Parameter("line-1-clocked-time")].Scale
	require.Equal(t, 5, clocked.Nearest(0.72), "0.75 quarters, a dotted eighth, is code 5; 0.6667 is farther")
	require.Equal(t, 9, clocked.AtMost(0.2), "0.1667, a triplet sixteenth, is code 9")
}
