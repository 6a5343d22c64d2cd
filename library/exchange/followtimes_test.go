package exchange

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/preset"
	"echowright/profiles"
)

// bandOfTaps is a device of four taps whose times may be their own, shares of a
// span, or note values of a tempo, by what stands in place of the capitals.
const bandOfTaps = `format = "echowright-device/1"
name = "band-of-taps"
[manners]
channels = [1, 16]
LIMITS
[scale.time]
unit = "ms"
codes = [0, 2000]
linear = { code = 0, is = 0.0, step = 1.0 }
[scale.share]
unit = "%"
codes = [0, 1000]
linear = { code = 0, is = 0.0, step = 0.1 }
[scale.note]
codes = [0, 5]
off = 0
notes = ["1/16", "1/8", "1/8.", "1/4", "1/2"]
[scale.tempo]
unit = "BPM"
codes = [0, 2000]
linear = { code = 0, is = 40.0, step = 0.1 }
[scale.gain]
unit = "dB"
codes = [0, 127]
silent = 0
amplitude = { full = 128 }
[scale.tap]
choices = ["one", "two", "three", "four"]
[loop]
from = "tap"
[tap]
names = ["one", "two", "three", "four"]
number_step = 1
TIME
[[tap.parameter]]
role = "level"
scale = "gain"
nrpn = "03 00"
[line]
names = ["memory"]
[[line.parameter]]
role = "feedback-tap"
scale = "tap"
nrpn = "05 00"
[[line.parameter]]
role = "feedback"
scale = "gain"
nrpn = "06 00"
[[line.parameter]]
name = "span"
scale = "time"
nrpn = "07 00"
[[parameter]]
name = "tempo"
role = "tempo"
scale = "tempo"
nrpn = "08 00"
`

// The ways in which its times may be told.
const (
	ownTimes = `[[tap.parameter]]
role = "time"
scale = "time"
nrpn = "01 00"`
	timesApart = ownTimes + `
rest = 100
rest_step = 100`
	noWayToSet = `[[tap.parameter]]
role = "time"
scale = "time"`
	sharesOfSpan = `[[tap.parameter]]
role = "time"
scale = "share"
of = "span"
nrpn = "01 00"`
	notesOfTempo = `[[tap.parameter]]
role = "note"
scale = "note"
of = "tempo"
nrpn = "01 00"`
	notesOfClock = ownTimes + `
[[tap.parameter]]
role = "note"
scale = "note"
of = "clock"
nrpn = "02 00"`
)

func bandDevice(t testing.TB, limits, time string) *profiles.Device {
	t.Helper()
	d, err := profiles.Parse("band.toml", []byte(strings.NewReplacer("LIMITS", limits, "TIME", time).Replace(bandOfTaps)))
	require.NoError(t, err)
	return d
}

// set is a setting with codes of parameters by their names; what is not named rests.
func set(t testing.TB, d *profiles.Device, codes map[string]int) profiles.Setting {
	t.Helper()
	s := d.Rest()
	for name, code := range codes {
		require.GreaterOrEqual(t, d.Parameter(name), 0, name)
		s.Codes[d.Parameter(name)] = code
	}
	require.NoError(t, d.Check(s))
	return s
}

// changed is what differs between two settings, by name.
func changed(d *profiles.Device, from, to profiles.Setting) map[string]int {
	all := map[string]int{}
	for i, p := range d.Parameters {
		if from.Codes[i] != to.Codes[i] {
			all[p.Name] = to.Codes[i]
		}
	}
	return all
}

// TestWhatMovesWithTheTempo: from 100 to 125 BPM times are as much shorter as a
// beat is, 600/480 = 1.25 (60000/BPM ms); all else stays.
func TestWhatMovesWithTheTempo(t *testing.T) {
	loud := map[string]int{"one-level": 100, "two-level": 90}
	with := func(codes map[string]int) map[string]int {
		for name, code := range loud {
			codes[name] = code
		}
		return codes
	}
	for _, c := range []struct {
		name, time string
		codes      map[string]int
		want       map[string]int
	}{
		{"times of their own", ownTimes, map[string]int{"one-time": 300, "two-time": 600}, map[string]int{"one-time": 240, "two-time": 480}},
		{"rounded to the device's steps", ownTimes, map[string]int{"one-time": 301, "two-time": 602}, map[string]int{"one-time": 241, "two-time": 482}},
		{"nothing is heard of the third tap", ownTimes, map[string]int{"one-time": 300, "two-time": 600, "three-time": 900}, map[string]int{"one-time": 240, "two-time": 480}},
		{"it is not heard but fed back", ownTimes, map[string]int{"one-time": 300, "two-time": 600, "three-time": 900, "feedback-tap": 2, "feedback": 60},
			map[string]int{"one-time": 240, "two-time": 480, "three-time": 720}},
		{"shares of a span: that alone", sharesOfSpan, map[string]int{"one-time": 300, "two-time": 600, "span": 1000}, map[string]int{"span": 800}},
		{"note values of a tempo of its own: that alone, the other way", notesOfTempo, map[string]int{"one-note": 2, "two-note": 4, "tempo": 600}, map[string]int{"tempo": 850}},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := bandDevice(t, "", c.time)
			s := set(t, d, with(c.codes))
			times, err := newTimes(d, 1, s, 100)
			require.NoError(t, err)
			moved, halved, err := times.within(125, 0)
			require.NoError(t, err)
			require.Zero(t, halved)
			require.Equal(t, c.want, changed(d, s, moved))
			back, _, err := times.within(100, 0)
			require.NoError(t, err)
			require.Empty(t, changed(d, s, back), "at its own tempo it is what it was")
			steps, err := times.steps(s, moved)
			require.NoError(t, err)
			require.Len(t, steps, len(c.want))
		})
	}
}

// TestNoLimitIsBrokenOnTheWay: between any two tempi every single step leaves the
// device with a setting that it takes.
func TestNoLimitIsBrokenOnTheWay(t *testing.T) {
	d := bandDevice(t, "[limits]\nlongest_ms = 1500\ntotal_ms = 1400\ndistance_ms = 40\nascending = true", timesApart)
	s := set(t, d, map[string]int{
		"one-time": 120, "two-time": 240, "three-time": 360, "four-time": 500,
		"one-level": 90, "two-level": 90, "three-level": 90, "four-level": 90,
	})
	times, err := newTimes(d, 1, s, 120)
	require.NoError(t, err)
	tempi := []preset.BPM{44, 60, 90, 119, 120, 121, 150, 208}
	decoder := d.Decoder(1)
	for _, from := range tempi {
		for _, to := range tempi {
			a, _, err := times.within(from, 0)
			require.NoError(t, err)
			b, _, err := times.within(to, 0)
			require.NoError(t, err)
			steps, err := times.steps(a, b)
			require.NoError(t, err)
			for _, step := range steps {
				for _, m := range midi.Split(step.Send) {
					for _, told := range decoder.Feed(m) {
						a.Codes[told.Parameter] = told.Code
					}
				}
				require.NoError(t, d.Check(a), "from %v to %v: after %s", from, to, step.What)
			}
			require.Equal(t, b.Codes, a.Codes, "from %v to %v", from, to)
		}
	}
}

// TestWhatIsNotHeardMakesRoom: a tap that nothing is heard of goes along where taps
// must stand in order, so that it is not in the way of one that grows; at the end of
// the device's reach it stays.
func TestWhatIsNotHeardMakesRoom(t *testing.T) {
	d := bandDevice(t, "[limits]\nlongest_ms = 1500\nascending = true", timesApart)
	s := set(t, d, map[string]int{"one-time": 600, "two-time": 700, "three-time": 1000, "four-time": 1400, "one-level": 90, "three-level": 90})
	times, err := newTimes(d, 1, s, 120)
	require.NoError(t, err)
	require.Equal(t, preset.Millis(1000), times.longest)
	moved, halved, err := times.within(80, 0)
	require.NoError(t, err)
	require.Zero(t, halved)
	require.Equal(t, map[string]int{"one-time": 900, "two-time": 1050, "three-time": 1500, "four-time": 1500}, changed(d, s, moved))
}

// TestTimesOutOfReachAreHalved: 1200 ms at 120 BPM are 1440 at 100, 1500 at 96, and
// at 95 more than the 1500 that the device has. They come back only where they
// would still be in reach if they were a just noticeable 2.5 % longer.
func TestTimesOutOfReachAreHalved(t *testing.T) {
	d := bandDevice(t, "[limits]\nlongest_ms = 1500", ownTimes)
	s := set(t, d, map[string]int{"one-time": 600, "two-time": 1200, "one-level": 90, "two-level": 90})
	times, err := newTimes(d, 1, s, 120)
	require.NoError(t, err)
	halved := 0
	for _, c := range []struct {
		tempo        preset.BPM
		halved, time int
	}{
		{120, 0, 1200}, {100, 0, 1440}, {96, 0, 1500}, {95, 1, 758}, {96, 1, 750}, {97, 1, 742}, {98, 1, 735}, {99, 0, 1455},
		{40, 2, 900}, {50, 1, 1440}, {20, 3, 900}, {120, 0, 1200},
	} {
		var moved profiles.Setting
		moved, halved, err = times.within(c.tempo, halved)
		require.NoError(t, err, c.tempo)
		require.Equal(t, c.halved, halved, "at %v", c.tempo)
		require.Equal(t, c.time, moved.Codes[d.Parameter("two-time")], "at %v", c.tempo)
	}
}

// TestATempoThatNoTimesFit: taps that must stand 100 ms apart cannot at 400 BPM,
// halved or not.
func TestATempoThatNoTimesFit(t *testing.T) {
	d := bandDevice(t, "[limits]\ndistance_ms = 100", timesApart)
	s := set(t, d, map[string]int{"one-time": 300, "two-time": 450, "three-time": 800, "four-time": 1200, "one-level": 90, "two-level": 90})
	times, err := newTimes(d, 1, s, 120)
	require.NoError(t, err)
	_, _, err = times.within(400, 0)
	require.ErrorIs(t, err, errBeyond)
	require.ErrorContains(t, err, `device "band-of-taps": the times that go with 400.0 BPM are out of its reach`)
}

// TestADeviceThatFollowsByItself: its taps go on the note values nearest to what is
// wanted. At 120 BPM a beat has 500 ms: 260 ms are an eighth (250), 480 ms a
// quarter (500), 1900 ms would be a whole note, which it has not: the nearest is a half (1000).
func TestADeviceThatFollowsByItself(t *testing.T) {
	d := bandDevice(t, "", notesOfClock)
	s := set(t, d, map[string]int{
		"one-time": 260, "two-time": 480, "three-time": 1900, "four-time": 700,
		"one-level": 90, "two-level": 90, "three-level": 90,
	})
	times, err := newTimes(d, 1, s, 120)
	require.NoError(t, err)
	moved, halved, err := times.within(120, 0)
	require.NoError(t, err)
	require.Zero(t, halved)
	require.Equal(t, map[string]int{"one-note": 2, "two-note": 4, "three-note": 5}, changed(d, s, moved), "the fourth is not heard")
	got := times.notes(moved, 120, 0)
	for i, want := range []NoteTime{
		{"one-note", "1/8", 260, 250, -10}, {"two-note", "1/4", 480, 500, 20}, {"three-note", "1/2", 1900, 1000, -900},
	} {
		require.Equal(t, want.Parameter, got[i].Parameter)
		require.Equal(t, want.Note, got[i].Note)
		for _, pair := range [][2]preset.Millis{{want.Wanted, got[i].Wanted}, {want.Got, got[i].Got}, {want.Off, got[i].Off}} {
			require.InDelta(t, float64(pair[0]), float64(pair[1]), 1e-9, "%s: nothing is rounded but the last digits", want.Parameter)
		}
	}
	again, halved, err := times.within(118, 0)
	require.NoError(t, err)
	require.Zero(t, halved)
	require.Empty(t, changed(d, moved, again), "the device goes along by itself")
	// At 80 BPM the third would want 2850 ms, and its taps reach to 2000: 1425 ms lie
	// nearer to a half (1500) than to a quarter (750).
	slow, halved, err := times.within(80, 0)
	require.NoError(t, err)
	require.Equal(t, 1, halved)
	require.Equal(t, map[string]int{"one-note": 1, "two-note": 2}, changed(d, moved, slow))
}

// TestWhatCannotFollow is refused with the reason, before anything is sent.
func TestWhatCannotFollow(t *testing.T) {
	apart := bandDevice(t, "", noWayToSet)
	_, err := newFollower(apart, 1)
	require.ErrorIs(t, err, profiles.ErrCannot)
	require.ErrorContains(t, err, `device "band-of-taps": four-time cannot be set while it sounds`)
	_, err = newTimes(apart, 1, set(t, apart, map[string]int{"one-time": 300, "one-level": 90}), 120)
	require.ErrorIs(t, err, profiles.ErrCannot)

	able := bandDevice(t, "", ownTimes)
	_, err = newFollower(able, 1)
	require.NoError(t, err)
	_, err = newFollower(able, 99)
	require.ErrorContains(t, err, "99")
	_, err = newTimes(able, 1, able.Rest(), 120)
	require.ErrorContains(t, err, "there is nothing that could follow a clock")
	for _, time := range []string{sharesOfSpan, notesOfTempo, notesOfClock} {
		_, err = newFollower(bandDevice(t, "", time), 1)
		require.NoError(t, err)
	}
	for _, name := range []string{"five-line", "tap-loop", "open-parameter", "twin", "two-by-three"} {
		d, err := profiles.Shipped(name)
		require.NoError(t, err)
		_, err = newFollower(d, d.Manners.FirstUnit)
		require.NoError(t, err, name)
	}
}

// TestScaledTimesAreWhatTheTempoWants on every shipped device: over all tempi of a
// metronome (40 to 208) no delay is off by more than what two roundings make, half
// of the widest step each.
func TestScaledTimesAreWhatTheTempoWants(t *testing.T) {
	for _, name := range []string{"five-line", "tap-loop", "open-parameter", "two-by-three"} {
		t.Run(name, func(t *testing.T) {
			d, err := profiles.Shipped(name)
			require.NoError(t, err)
			w, err := wantedOf(d, followUnit(375, false, 0.5, 1), quarter)(120)
			require.NoError(t, err)
			times, err := newTimes(d, d.Manners.FirstUnit, w.Setting, 120)
			require.NoError(t, err)
			for tempo := preset.BPM(40); tempo <= 208; tempo++ {
				s, halved, err := times.within(tempo, 0)
				require.NoError(t, err)
				echoes, err := d.Echoes(s, -40, 4000)
				require.NoError(t, err)
				for _, share := range []float64{0.5, 1} {
					want := share * math.Ldexp(float64(quarter.Length(tempo)), -halved)
					least := math.Inf(1)
					for _, e := range echoes {
						least = min(least, math.Abs(float64(e.At)-want))
					}
					require.LessOrEqual(t, least, roundings(d)*(1+120/float64(tempo)), "%v, a delay of %.1f ms", tempo, want)
				}
			}
		})
	}
}

// roundings is half of the widest step that a delay can be set in.
func roundings(d *profiles.Device) float64 {
	i := rootOf(d, d.Lines[0].Taps[0], d.Rest())
	worst := d.Parameters[i].Scale.WorstRounding()
	if at := d.Lines[0].Taps[0].Parameter(profiles.RoleTime); at != i {
		worst += d.Parameters[at].Scale.WorstRounding() / 100 * 2000 // a share of at most 2 s
	}
	return worst + 1e-6
}

// TestHowOftenInWords holds for as often as times are ever halved.
func TestHowOftenInWords(t *testing.T) {
	seen := map[string]bool{}
	for n := range mostHalvings + 1 {
		seen[halvings(n)] = true
	}
	require.Len(t, seen, mostHalvings+1)
	require.True(t, seen["a half of what was asked"])
	require.Equal(t, "a 64th of what was asked", halvings(6), fmt.Sprint(seen))
}
