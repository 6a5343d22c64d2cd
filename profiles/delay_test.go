package profiles

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// derivedTimes is a device whose times hang on others: each line has a span of
// which its taps are a share, each tap a note value that takes over, and all
// share a tempo and a mode that says how long a span may be.
const derivedTimes = `
format = "echowright-device/1"
name = "derived-times"
[manners]
[scale.span]
unit = "ms"
codes = [0, 200]
linear = { code = 0, is = 0.0, step = 10.0 }
[scale.share]
unit = "%"
codes = [0, 100]
linear = { code = 0, is = 0.0, step = 1.0 }
[scale.note]
codes = [0, 4]
off = 0
notes = ["1/4", "1/8", "1/8.", "1/8t"]
[scale.tempo]
unit = "BPM"
codes = [0, 200]
linear = { code = 0, is = 40.0, step = 1.0 }
[scale.mode]
choices = ["short", "long"]
[scale.level]
unit = "dB"
codes = [0, 100]
silent = 0
linear = { code = 100, is = 0.0, step = 1.0 }
[scale.balance]
unit = "%"
codes = [0, 127]
piecewise = [[0, 0], [127, 100]]
[tap]
names = ["near", "far"]
[[tap.parameter]]
role = "time"
scale = "share"
of = "span"
[[tap.parameter]]
role = "note"
scale = "note"
of = "tempo"
[[tap.parameter]]
role = "level"
scale = "level"
[line]
names = ["left", "right"]
[[line.parameter]]
name = "span"
scale = "span"
reach_of = "mode"
reach = { short = [0, 500] }
[[parameter]]
name = "tempo"
role = "tempo"
scale = "tempo"
[[parameter]]
name = "mode"
scale = "mode"
rest = 1
[[parameter]]
name = "feedback"
role = "feedback"
scale = "level"
[[parameter]]
name = "balance"
role = "balance"
scale = "balance"
[loop]
from = "tap"
tap = "far"
`

func parsed(t testing.TB, text string) *Device {
	t.Helper()
	d, err := Parse("device.toml", []byte(text))
	require.NoError(t, err)
	return d
}

func TestTimesThatHangOnOthers(t *testing.T) {
	d := parsed(t, derivedTimes)
	for _, c := range []struct {
		name  string
		codes map[string]int
		line  int
		tap   int
		want  preset.Millis
	}{
		{"a quarter of 800 ms", map[string]int{"left-span": 80, "left-near-time": 25}, 0, 0, 200},
		{"of its own line's span", map[string]int{"left-span": 80, "right-span": 120, "right-far-time": 50}, 1, 1, 600},
		{"a share of nothing", map[string]int{"left-near-time": 25}, 0, 0, 0},
		{"a quarter note at 120 BPM", map[string]int{"left-span": 80, "left-near-time": 25, "left-near-note": 1, "tempo": 80}, 0, 0, 500},
		{"a dotted eighth at 100 BPM: 0.75 · 600", map[string]int{"right-near-note": 3, "tempo": 60}, 1, 0, 450},
		{"an eighth triplet at 40 BPM: 1500/3", map[string]int{"right-near-note": 4}, 1, 0, 500},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := setting(t, d, c.codes)
			got, ok, err := d.Delay(d.Lines[c.line].Taps[c.tap], s)
			require.NoError(t, err)
			require.True(t, ok)
			require.InDelta(t, float64(c.want), float64(got), 1e-9)
		})
	}
}

// A tempo in ms a beat: 300 ms for a quarter make a dotted eighth of 225 ms.
func TestATempoInMillis(t *testing.T) {
	d := parsed(t, strings.Replace(derivedTimes, "unit = \"BPM\"\ncodes = [0, 200]\nlinear = { code = 0, is = 40.0, step = 1.0 }",
		"unit = \"ms\"\ncodes = [0, 200]\nlinear = { code = 0, is = 0.0, step = 10.0 }", 1))
	got, ok, err := d.Delay(d.Lines[0].Taps[0], setting(t, d, map[string]int{"tempo": 30, "left-near-note": 3}))
	require.NoError(t, err)
	require.True(t, ok)
	require.InDelta(t, 225, float64(got), 1e-9)
}

func TestATimeThatFollowsTheClock(t *testing.T) {
	d := shippedDevice(t, "twin")
	s := setting(t, d, map[string]int{"line-2-clocked-time": 4, "line-2-time": 5000})
	require.NoError(t, d.Check(s), "the device takes it")
	_, err := d.Network(s)
	require.ErrorIs(t, err, ErrClock)
	require.ErrorContains(t, err, "line-2-clocked-time")
	require.Equal(t, Row{Parameter: "line-2-clocked-time", Value: "1/8", Code: 4}, d.Rows(s)[d.Parameter("line-2-clocked-time")])
}

func TestAShareOfEveryEcho(t *testing.T) {
	d := parsed(t, derivedTimes)
	// One turn: 40 % of 1000 ms comes back through "far" at 50 %, 500 ms later,
	// 20 dB down. The balance stands at 127/127 or near its middle, 64/127.
	s := setting(t, d, map[string]int{"left-span": 100, "left-near-time": 40, "left-near-level": 94, "left-far-time": 50, "feedback": 80, "balance": 127})
	echoes, err := d.Echoes(s, -30, 1000)
	require.NoError(t, err)
	require.Len(t, echoes, 2)
	require.InDelta(t, 400, float64(echoes[0].At), 1e-9)
	require.InDelta(t, -6, float64(echoes[0].Level), 1e-9)
	require.InDelta(t, 900, float64(echoes[1].At), 1e-9)
	require.InDelta(t, -26, float64(echoes[1].Level), 1e-9)
	require.Less(t, float64(d.DryLevel(s)), -1000.0, "the echoes alone")

	put(t, d, s, "balance", 64)
	require.InDelta(t, 20*math.Log10(63.0/127), float64(d.DryLevel(s)), 1e-9)
	echoes, err = d.Echoes(s, -30, 500)
	require.NoError(t, err)
	require.InDelta(t, -6+20*math.Log10(64.0/127), float64(echoes[0].Level), 1e-9)
}

func TestOneFeedbackForAllLines(t *testing.T) {
	d := parsed(t, derivedTimes)
	i := d.Shared(RoleFeedback)
	require.Equal(t, "feedback", d.Parameters[i].Name)
	for _, l := range d.Lines {
		require.Equal(t, i, l.Parameter(RoleFeedback))
	}
}

// Limits are checked on taps at 0.1 ms a code.
func TestLimitsOfTimes(t *testing.T) {
	with := func(limits string) *Device {
		text := fmt.Sprintf("[limits]\n%s\n[tap]\nnames = [\"near\", \"far\"]\n", limits)
		text = strings.Replace(derivedTimes, "[tap]\nnames = [\"near\", \"far\"]\n", text, 1)
		text = strings.Replace(text, "scale = \"share\"\nof = \"span\"", "scale = \"span\"\nrest = 2\nrest_step = 5", 1)
		return parsed(t, text)
	}
	for _, c := range []struct {
		name, limits string
		codes        map[string]int
		want         string // "" where it is allowed
	}{
		{"at the longest", "longest_ms = 900", map[string]int{"left-far-time": 90}, ""},
		{"over the longest", "longest_ms = 900", map[string]int{"left-far-time": 91}, `line "left": tap "far": 910 ms: device "derived-times" has 900 ms at the longest`},
		{"all of the memory", "total_ms = 2000", map[string]int{"left-far-time": 90, "left-near-time": 90, "right-far-time": 110}, ""},
		{"more than the memory", "total_ms = 2000", map[string]int{"left-far-time": 91, "right-far-time": 110}, "the lines take 2010 ms together"},
		{"in order", "ascending = true", map[string]int{"left-near-time": 7, "left-far-time": 7}, ""},
		{"out of order", "ascending = true", map[string]int{"left-near-time": 8, "left-far-time": 7}, "70 ms after a tap at 80 ms"},
		{"far enough from each other", "distance_ms = 50", map[string]int{"left-near-time": 12, "left-far-time": 7}, ""},
		{"too near to each other", "distance_ms = 50", map[string]int{"left-near-time": 11, "left-far-time": 7}, "70 ms beside a tap at 110 ms"},
		{"a note value is bound too", "longest_ms = 900", map[string]int{"left-far-note": 1, "tempo": 0}, "1500 ms"},
		{"within the mode's reach", "", map[string]int{"mode": 0, "left-span": 50}, ""},
		{"beyond the mode's reach", "", map[string]int{"mode": 0, "left-span": 51}, `left-span: 510 ms: with mode = short device "derived-times" takes 0 to 500`},
		{"in the other mode", "", map[string]int{"mode": 1, "left-span": 200}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := with(c.limits)
			err := d.Check(setting(t, d, c.codes))
			if c.want == "" {
				require.NoError(t, err)
				return
			}
			require.ErrorContains(t, err, c.want)
		})
	}
}

func TestRestsStepFromTapToTap(t *testing.T) {
	d := shippedDevice(t, "tap-loop")
	require.Zero(t, d.Parameters[d.Parameter("tap-7-time")].Rest)
	stepped := parsed(t, strings.Replace(derivedTimes, "scale = \"share\"\nof = \"span\"", "scale = \"span\"\nrest = 2\nrest_step = 5", 1))
	for name, want := range map[string]int{"left-near-time": 2, "left-far-time": 7, "right-near-time": 12, "right-far-time": 17} {
		require.Equal(t, want, stepped.Parameters[stepped.Parameter(name)].Rest, name)
	}
}
