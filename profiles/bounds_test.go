package profiles

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// bounded is a device of four taps on each of two memories with limits on their
// times; what of it varies stands in place of the words in capitals.
const boundedTaps = `format = "echowright-device/1"
name = "bounded"
[manners]
[limits]
LIMITS
[scale.time]
unit = "ms"
codes = [0, 120]
linear = { code = 0, is = 0.0, step = 10.0 }
TIMEKEYS
[scale.share]
unit = "%"
codes = [0, 100]
linear = { code = 0, is = 0.0, step = 1.0 }
[scale.note]
codes = [0, 4]
off = 0
notes = ["1/16", "1/8", "1/8.", "1/4"]
[scale.tempo]
unit = "BPM"
codes = [0, 60]
linear = { code = 0, is = 60.0, step = 2.0 }
[scale.gain]
unit = "dB"
codes = [0, 127]
silent = 0
amplitude = { full = 100 }
[scale.tap]
choices = ["one", "two", "three", "four"]
[scale.mode]
choices = ["short", "middle", "long"]
[loop]
from = "tap"
level = "after"
[tap]
names = ["one", "two", "three", "four"]
number_step = 1
[[tap.parameter]]
role = "time"
TIME
nrpn = "01 00"
NOTE
[[tap.parameter]]
role = "level"
scale = "gain"
nrpn = "03 00"
[line]
names = ["left", "right"]
number_step = 16
[[line.parameter]]
role = "feedback-tap"
scale = "tap"
nrpn = "05 00"
[[line.parameter]]
role = "feedback"
scale = "gain"
nrpn = "06 00"
[[line.parameter]]
name = "longest"
scale = "time"
nrpn = "07 00"
SPAN
[[parameter]]
name = "tempo"
role = "tempo"
scale = "tempo"
nrpn = "08 00"
[[parameter]]
name = "mode"
scale = "mode"
nrpn = "08 01"
`

// variants of it, and whether there is always a way that keeps the limits.
var boundedVariants = []struct {
	name, limits, timeKeys, time, note, span string
	broken                                   string // what Holes says of it
}{
	{name: "in order", limits: "ascending = true"},
	{name: "in order and apart", limits: "ascending = true\ndistance_ms = 25"},
	{name: "in order, apart, and not too long together", limits: "ascending = true\ndistance_ms = 45\ntotal_ms = 1500\nlongest_ms = 1100"},
	{name: "not too long together", limits: "total_ms = 900"},
	{name: "in order, or following a tempo", limits: "ascending = true\ntotal_ms = 2500", note: "note"},
	{name: "shares of a span, in order", limits: "ascending = true\nlongest_ms = 700", time: "share"},
	{name: "shares of a span that a mode bounds", limits: "total_ms = 1100", time: "share", span: "{ short = [0, 400], middle = [100, 800], long = [300, 1200] }"},
	{name: "apart, but with a code that switches off", limits: "distance_ms = 60", timeKeys: "off = 0"},
	{name: "apart in any order", limits: "distance_ms = 60", broken: "two taps may come nearer to each other than 60 ms"},
	{name: "modes that have nothing in common", limits: "longest_ms = 900", span: "{ short = [0, 400], middle = [300, 800], long = [500, 1200] }",
		broken: "no value of it is allowed with every choice of mode"},
}

func boundedDevice(t testing.TB, n int) *Device {
	t.Helper()
	v := boundedVariants[n]
	time, note, span := `scale = "time"`, "", ""
	if v.time == "share" {
		time = "scale = \"share\"\nof = \"longest\""
	}
	if v.note != "" {
		note = "[[tap.parameter]]\nrole = \"note\"\nscale = \"note\"\nof = \"tempo\"\nnrpn = \"02 00\""
	}
	if v.span != "" {
		span = "reach_of = \"mode\"\nreach = " + v.span
	}
	text := strings.NewReplacer("LIMITS", v.limits, "TIMEKEYS", v.timeKeys, "TIME", time, "NOTE", note, "SPAN", span).Replace(boundedTaps)
	if strings.Contains(v.limits, "distance") {
		text = restApart(text)
	}
	return parsed(t, text)
}

// restApart lets the taps rest far enough from each other.
func restApart(text string) string {
	return strings.Replace(text, "nrpn = \"01 00\"", "nrpn = \"01 00\"\nrest = 1\nrest_step = 6", 1)
}

func TestNoStepOnTheWayBreaksTheLimits(t *testing.T) {
	for n, v := range boundedVariants {
		t.Run(v.name, func(t *testing.T) {
			d := boundedDevice(t, n)
			random := rand.New(rand.NewPCG(51, uint64(n)))
			broke := ""
			for range 200 {
				now, want := allowed(random, d), allowed(random, d)
				for _, c := range d.safeOrder(want) {
					now.Codes[c.parameter] = c.code
					if err := d.checkTimes(now); err != nil {
						broke = fmt.Sprintf("%s = %d: %v", d.Parameters[c.parameter].Name, c.code, err)
					}
				}
				require.Equal(t, want.Codes, now.Codes)
			}
			holes := fmt.Sprint(d.Holes())
			if v.broken != "" {
				require.NotEmpty(t, broke, "there is no way, and so one is broken now and then")
				require.Contains(t, holes, v.broken)
				return
			}
			require.Empty(t, broke)
			require.NotContains(t, holes, "may come nearer")
			require.NotContains(t, holes, "no value of it")
		})
	}
}

// allowed is a random setting that keeps the device's limits: as long as they are
// broken, codes are chosen again one by one, small ones rather than great ones.
func allowed(random *rand.Rand, d *Device) Setting {
	for {
		s := anyCodes(random, d)
		for range 400 {
			if d.Limits.Ascending {
				sortTimes(d, s)
			}
			if d.Check(s) == nil {
				return s
			}
			i := random.IntN(len(s.Codes))
			sc := d.Parameters[i].Scale
			s.Codes[i] = sc.Low + random.IntN(1+random.IntN(sc.High()-sc.Low+1))
		}
	}
}

func sortTimes(d *Device, s Setting) {
	for _, l := range d.Lines {
		var codes []int
		for _, tap := range l.Taps {
			codes = append(codes, s.Codes[tap.Parameter(RoleTime)])
		}
		slices.Sort(codes)
		for k, tap := range l.Taps {
			s.Codes[tap.Parameter(RoleTime)] = codes[k]
		}
	}
}

func anyCodes(random *rand.Rand, d *Device) Setting {
	s := d.Rest()
	for i, p := range d.Parameters {
		for ok := false; !ok; ok = p.Scale.Holds(s.Codes[i]) {
			s.Codes[i] = p.Scale.Low + random.IntN(p.Scale.High()-p.Scale.Low+1)
		}
	}
	return s
}

// From wherever the device stands, no loop is ever stronger on the way than at the
// stronger of the two ends.
func TestNoLoopGainOnTheWayIsAboveBothEnds(t *testing.T) {
	var devices []*Device
	for _, name := range Names() {
		d, err := Shipped(name)
		require.NoError(t, err)
		devices = append(devices, d)
	}
	for n := range boundedVariants {
		devices = append(devices, boundedDevice(t, n))
	}
	for n, d := range devices {
		t.Run(d.Name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(52, uint64(n)))
			for range 100 {
				now, want := anyCodes(random, d), allowed(random, d)
				inRow(random, d, now)
				inRow(random, d, want)
				most := max(d.LoopGain(now), d.LoopGain(want))
				for _, c := range d.safeOrder(want) {
					now.Codes[c.parameter] = c.code
					require.NoError(t, d.checkCircle(now), "no circle on the way")
					gain := d.LoopGain(now)
					require.False(t, math.IsNaN(float64(gain)))
					require.LessOrEqual(t, float64(gain), float64(most)+1e-9, "%s = %d", d.Parameters[c.parameter].Name, c.code)
				}
				require.Equal(t, want.Codes, now.Codes)
			}
		})
	}
}

// inRow lets lines have the input or a line before them for their source.
func inRow(random *rand.Rand, d *Device, s Setting) {
	for n, l := range d.Lines {
		if i := l.Parameter(RoleSource); i != None {
			s.Codes[i], _ = d.SourceCode(l, random.IntN(n+1)-1)
		}
	}
}
