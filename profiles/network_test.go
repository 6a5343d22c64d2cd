package profiles

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// requireResponse compares the echoes of a setting with an impulse response
// that was reckoned sample by sample, a sample every millis.
func requireResponse(t *testing.T, d *Device, s Setting, response []float64, millis preset.Millis) {
	t.Helper()
	require.NoError(t, d.Check(s))
	const floor = -80
	echoes, err := d.Echoes(s, floor, millis*preset.Millis(len(response)-1))
	require.NoError(t, err)
	got := make([]float64, len(response))
	for _, e := range echoes {
		a := e.Level.Amplitude()
		if e.Inverted {
			a = -a
		}
		got[int(math.Round(float64(e.At/millis)))] += a
	}
	for n := range response {
		// Echoes below the floor, 1e-4, are not listed.
		require.InDelta(t, response[n], got[n], 1.1e-4, "sample %d, codes %v", n, s.Codes)
	}
}

// at is sample n of a signal, 0 before its beginning.
func at(signal []float64, n int) float64 {
	if n < 0 {
		return 0
	}
	return signal[n]
}

func impulse(n int) float64 {
	if n == 0 {
		return 1
	}
	return 0
}

func ratio(db float64) float64 { return math.Pow(10, db/20) }

func shippedDevice(t testing.TB, name string) *Device {
	t.Helper()
	d, err := Shipped(name)
	require.NoError(t, err)
	return d
}

// put sets a parameter by its name.
func put(t testing.TB, d *Device, s Setting, name string, code int) int {
	t.Helper()
	i := d.Parameter(name)
	require.NotEqual(t, None, i, name)
	s.Codes[i] = code
	return code
}

// m(t) = T·(x(t) + f·m(t − d_k)), out = Σ level_i·m(t − d_i): the manual of
// tap-loop. A step of time, 0.125 ms, is a sample.
func TestTapLoopIsItsManual(t *testing.T) {
	d := shippedDevice(t, "tap-loop")
	random := rand.New(rand.NewPCG(11, 1))
	for range 20 {
		s := d.Rest()
		var delay [8]int
		var level [8]float64
		for i := range 8 {
			tap := "tap-" + string(rune('0'+i)) + "-"
			delay[i] = put(t, d, s, tap+"time", 80+random.IntN(3000))
			if code := put(t, d, s, tap+"level", random.IntN(128)); code > 0 {
				level[i] = ratio(-48 + 48*float64(code-1)/126)
			}
			if put(t, d, s, tap+"polarity", random.IntN(128)) > 63 {
				level[i] = -level[i]
			}
		}
		f := 1.10 * float64(put(t, d, s, "feedback", random.IntN(90))) / 127
		k := put(t, d, s, "feedback-tap", random.IntN(8))
		corner := 800 * math.Pow(20, float64(put(t, d, s, "high-cut", random.IntN(128)))/127)
		cut := 1 / math.Sqrt(1+(1000/corner)*(1000/corner)) // a one-pole at 1 kHz

		m, out := make([]float64, 12000), make([]float64, 12000)
		for n := range m {
			m[n] = cut * (impulse(n) + f*at(m, n-delay[k]))
			for i := range 8 {
				out[n] += level[i] * at(m, n-delay[i])
			}
		}
		requireResponse(t, d, s, out, 0.125)
	}
}

// y(t) = x(t − d) + f·y(t − d), out = mix·level·y: the manual of twin. A code of
// time, 1200/16383 ms, is a sample.
func TestTwinIsItsManual(t *testing.T) {
	d := shippedDevice(t, "twin")
	random := rand.New(rand.NewPCG(11, 2))
	for range 20 {
		s := d.Rest()
		out := make([]float64, 20000)
		mix := float64(put(t, d, s, "mix", random.IntN(128))) / 127
		for _, line := range []string{"line-1-", "line-2-"} {
			delay := put(t, d, s, line+"time", 200+random.IntN(16000))
			level := math.Pow(float64(put(t, d, s, line+"level", random.IntN(128)))/127, 2)
			f := 0.98 * float64(put(t, d, s, line+"feedback", random.IntN(120))) / 127
			y := make([]float64, len(out))
			for n := range y {
				if n >= delay {
					y[n] = impulse(n-delay) + f*y[n-delay]
				}
				out[n] += mix * level * y[n]
			}
		}
		requireResponse(t, d, s, out, 1200.0/16383)
	}
}

// m(t) = x(t) + f·Σ level_i·p_i·m(t − d_i), out = Σ level_i·p_i·m(t − d_i): the
// manual of open-parameter. A step of time, 0.1 ms, is a sample.
func TestOpenParameterIsItsManual(t *testing.T) {
	d := shippedDevice(t, "open-parameter")
	random := rand.New(rand.NewPCG(11, 3))
	for range 20 {
		s := d.Rest()
		var delay [4]int
		var level [4]float64
		for i := range 4 {
			tap := "tap-" + string(rune('1'+i)) + "-"
			delay[i] = put(t, d, s, tap+"time", 500+random.IntN(3000))
			level[i] = ratio(-102.3 + 0.1*float64(put(t, d, s, tap+"level", 800+random.IntN(200))))
			if put(t, d, s, tap+"polarity", random.IntN(2)) == 1 {
				level[i] = -level[i]
			}
		}
		f := float64(put(t, d, s, "feedback", random.IntN(500))) / 1000
		m, out := make([]float64, 6000), make([]float64, 6000)
		for n := range m {
			for i := range 4 {
				out[n] += level[i] * at(m, n-delay[i])
			}
			m[n] = impulse(n) + f*out[n]
		}
		requireResponse(t, d, s, out, 0.1)
	}
}

// y(t) = T·(x_s(t − d) + f·y(t − d)), out = Σ level·polarity·y: the manual of
// five-line. A step of time, 0.1 ms, is a sample.
func TestFiveLineIsItsManual(t *testing.T) {
	d := shippedDevice(t, "five-line")
	random := rand.New(rand.NewPCG(11, 4))
	for range 10 {
		s := d.Rest()
		out := make([]float64, 8000)
		var before []float64 // the line before, which may be the source
		for i, line := range []string{"a-", "b-", "c-", "d-", "e-"} {
			delay := put(t, d, s, line+"time", 500+random.IntN(4000))
			level := ratio(-60 + 0.5*float64(put(t, d, s, line+"level", 90+random.IntN(32))-1))
			if put(t, d, s, line+"polarity", random.IntN(2)) == 1 {
				level = -level
			}
			f := float64(put(t, d, s, line+"feedback", random.IntN(80))) / 128
			low := 20 * math.Exp2(float64(put(t, d, s, line+"low-cut", 1+random.IntN(31))-1)/6)
			cut := 1 / math.Sqrt(1+math.Pow(low/1000, 2))
			source := i > 0 && random.IntN(2) == 1
			if source {
				put(t, d, s, line+"source", i)
			}
			y := make([]float64, len(out))
			for n := range y {
				x := impulse(n - delay)
				if source {
					x = at(before, n-delay)
				}
				y[n] = cut * (x + f*at(y, n-delay))
				out[n] += level * y[n]
			}
			before = y
		}
		requireResponse(t, d, s, out, 0.1)
	}
}

// twoMemories is a device of two lines with two taps each, of which the second
// line may have the first for its source; LOOP stands for the loop's keys.
const twoMemories = `
format = "echowright-device/1"
name = "two-memories"
[manners]
[scale.time]
unit = "ms"
codes = [0, 400]
linear = { code = 0, is = 0.0, step = 1.0 }
[scale.level]
unit = "dB"
codes = [0, 100]
silent = 0
linear = { code = 100, is = 0.0, step = 0.5 }
[scale.feedback]           # with its sign: 50 is nothing
unit = "dB"
codes = [0, 100]
silent = 50
amplitude = { full = 100, zero = 50, is = 0.9 }
[scale.cut]
unit = "Hz"
codes = [0, 10]
off = 10
exponential = { code = 0, is = 1000.0, codes_per_octave = 2.0 }
[scale.source]
choices = ["input", "one"]
[scale.turn]
choices = ["normal", "inverted"]
[scale.which]
choices = ["near", "far"]
[loop]
LOOP
[tap]
names = ["near", "far"]
parameter = [
  { role = "time", scale = "time" },
  { role = "level", scale = "level" },
  { role = "polarity", scale = "turn" },
]
[line]
names = ["one", "two"]
parameter = [
  { role = "level", scale = "level", rest = 100 },
  { role = "feedback", scale = "feedback", rest = 50 },
  { role = "feedback-polarity", scale = "turn" },
  { role = "source", scale = "source" },
  { role = "high-cut", scale = "cut", rest = 10 },
  CHOICE
]
[[parameter]]
name = "mix"
role = "mix"
scale = "level"
rest = 100
`

// memoryLine is a line of two taps as the test reckons it.
type memoryLine struct {
	delay       [2]int
	level       [2]float64
	own, f, cut float64
	fed         int // the tap fed back
	sourced     bool
	m, heard    []float64
}

// run is the line's response to a signal, by the definition of its loop.
func (l *memoryLine) run(from, level, tone string, x func(n int) float64, length int) {
	l.m, l.heard = make([]float64, length), make([]float64, length)
	in, loop, out := l.cut, l.cut, 1.0
	switch tone {
	case "loop":
		in = 1
	case "output":
		in, loop, out = 1, 1, l.cut
	}
	for n := range length {
		back := 0.0
		for i := range 2 {
			read := at(l.m, n-l.delay[i])
			l.heard[n] += out * l.own * l.level[i] * read
			if from == "tap" && i != l.fed {
				continue
			}
			if level == "after" {
				read *= l.level[i]
			}
			back += read
		}
		l.m[n] = in*x(n) + loop*l.f*back
	}
}

func TestEveryLoopIsItsDefinition(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 5))
	for _, from := range []string{"tap", "fixed", "sum"} {
		for _, level := range []string{"before", "after"} {
			for _, tone := range []string{"memory", "loop", "output"} {
				t.Run(from+" "+level+" "+tone, func(t *testing.T) {
					keys := "level = \"" + level + "\"\ntone = \"" + tone + "\"\nfrom = "
					choice, plain := "", from
					switch from {
					case "tap":
						keys += `"tap"`
						choice = `{ role = "feedback-tap", scale = "which" },`
					case "fixed":
						keys += "\"tap\"\ntap = \"far\""
						plain = "tap"
					case "sum":
						keys += `"sum"`
					}
					d, err := Parse("two.toml", []byte(strings.NewReplacer("LOOP", keys, "CHOICE", choice).Replace(twoMemories)))
					require.NoError(t, err)
					for range 5 {
						s, one, two := twoLines(t, d, random, choice != "")
						const length = 500
						one.run(plain, level, tone, impulse, length)
						x := impulse
						if two.sourced {
							x = func(n int) float64 { return at(one.heard, n) }
						}
						two.run(plain, level, tone, x, length)
						mix := ratio(0.5 * float64(put(t, d, s, "mix", 60+random.IntN(41))-100))
						out := make([]float64, length)
						for n := range out {
							out[n] = mix * (one.heard[n] + two.heard[n])
						}
						requireResponse(t, d, s, out, 1)
					}
				})
			}
		}
	}
}

// twoLines throws a setting and says what it is by the words of the profile.
func twoLines(t *testing.T, d *Device, random *rand.Rand, chooses bool) (s Setting, one, two *memoryLine) {
	s = d.Rest()
	lines := map[string]*memoryLine{"one-": {fed: 1}, "two-": {fed: 1}}
	for _, name := range []string{"one-", "two-"} {
		l := lines[name]
		for i, tap := range []string{"near-", "far-"} {
			l.delay[i] = put(t, d, s, name+tap+"time", 40+random.IntN(200))
			l.level[i] = ratio(0.5 * float64(put(t, d, s, name+tap+"level", 80+random.IntN(21))-100))
			if put(t, d, s, name+tap+"polarity", random.IntN(2)) == 1 {
				l.level[i] = -l.level[i]
			}
		}
		l.own = ratio(0.5 * float64(put(t, d, s, name+"level", 80+random.IntN(21))-100))
		l.f = 0.9 * float64(put(t, d, s, name+"feedback", 30+random.IntN(41))-50) / 50
		if put(t, d, s, name+"feedback-polarity", random.IntN(2)) == 1 {
			l.f = -l.f
		}
		corner := 1000 * math.Exp2(float64(put(t, d, s, name+"high-cut", random.IntN(10)))/2)
		l.cut = 1 / math.Sqrt(1+math.Pow(1000/corner, 2))
		if chooses {
			l.fed = put(t, d, s, name+"feedback-tap", random.IntN(2))
		}
	}
	two = lines["two-"]
	two.sourced = put(t, d, s, "two-source", random.IntN(2)) == 1
	return s, lines["one-"], two
}
