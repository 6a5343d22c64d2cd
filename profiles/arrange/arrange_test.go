package arrange

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/profiles"
)

// What a device with steps of 0.1 ms and 0.5 dB is asked to hold on every echo
// down to −60 dB: its own rounding, and as much again for what adds up.
const (
	tolerableTime  preset.Millis   = 0.15
	tolerableLevel preset.Decibels = 0.5
)

func TestThreeHeadsWithTheLoopFromTheLastAreFiveLines(t *testing.T) {
	d := fiveLine(t)
	r := arranged(t, pattern(t, tradeUnit()), d)

	// 3 heads; repeats every 405 ms, each 6.9 dB softer, until −60 dB or 4 s: head 1
	// (−7 dB) has ⌊53/6.9⌋ = 7, head 2 (0 dB) ⌊60/6.9⌋ = 8, head 3 (−2 dB) 8 repeats.
	require.Len(t, r.Echoes, 3+7+8+8)
	late, off := worst(t, r)
	require.LessOrEqual(t, late, tolerableTime)
	require.LessOrEqual(t, off, tolerableLevel)
	require.Empty(t, r.Extra)
	require.Equal(t, 5, inUse(d, r.Setting), "no line is wasted")
	// Levels of −13.9, −6.9 dB round to 0.5 dB by 0.1 dB: −39 dB for those echoes,
	// which are a quarter of the whole.
	require.Less(t, r.Error, preset.Decibels(-44))

	gains := loopGains(d, r.Setting)
	require.Len(t, gains, 1)
	require.LessOrEqual(t, gains[0], preset.Decibels(-6.9))
	require.InDelta(t, -6.9, float64(gains[0]), 0.05, "nearer than the 0.15 dB between two feedback codes")
}

func TestTheLinesOfTheTradeUnit(t *testing.T) {
	d := fiveLine(t)
	r := arranged(t, pattern(t, tradeUnit()), d)
	// Worked by hand from the package comment: first echoes from the input, the loop
	// from head 3, the repeats of heads 1 and 2 from the loop 6.9 dB softer.
	for name, want := range map[string]any{
		"a-time": 121.0, "a-source": "input", "a-level": -7.0, "a-feedback": "silent",
		"b-time": 263.0, "b-source": "input", "b-level": 0.0, "b-feedback": "silent",
		"c-time": 405.0, "c-source": "input", "c-level": -2.0,
		"d-time": 121.0, "d-source": "c", "d-level": -14.0, "d-feedback": "silent",
		"e-time": 263.0, "e-source": "c", "e-level": -7.0, "e-feedback": "silent",
		"dry-level": 0.0, "drive": 0.0, "wobble-rate": 0.0, "wobble-depth": 0.0,
	} {
		got := value(t, d, r.Setting, name)
		if number, ok := want.(float64); ok {
			require.InDelta(t, number, got, 1e-9, name)
			continue
		}
		require.Equal(t, want, got, name)
	}
	require.Empty(t, r.Setting.Name, "the caller names the slot")
}

func TestFourLinesAreNotEnough(t *testing.T) {
	p := pattern(t, tradeUnit())
	five := arranged(t, p, fiveLine(t))
	four := arranged(t, p, variant(t, withLines(4)...))

	require.Zero(t, missing(five))
	// The best that four lines were found to do is more than ten times (20 dB) as far
	// off as five: one echo at the least is missing, and there are some that nothing
	// asked for.
	require.Positive(t, missing(four)+len(four.Extra))
	require.Greater(t, four.Error, preset.Decibels(-28))
	require.Greater(t, four.Error, five.Error+20)
	require.Contains(t, four.Warnings, "3 heads with the loop from head 3 take 5 lines, the device has 4: what is heard least is given up")
}

func TestPatternsThatLinesGiveWhole(t *testing.T) {
	heads := func() []preset.Head {
		return []preset.Head{{Delay: 121, Level: -7}, {Delay: 263}, {Delay: 405, Level: -2}}
	}
	inverted := heads()
	inverted[0].Inverted, inverted[1].Inverted = true, true
	for _, c := range []struct {
		name  string
		unit  preset.Unit
		heard []int
		lines int // by the rules of the package comment
	}{
		{"loop from the first head", unit(-6.9, []int{1}, heads()...), nil, 3},
		{"loop from the middle head", unit(-6.9, []int{2}, heads()...), nil, 4},
		{"loop from the last head", unit(-6.9, []int{3}, heads()...), nil, 5},
		{"no loop", unit(0, nil, heads()...), nil, 3},
		{"one head", unit(-3, []int{1}, preset.Head{Delay: 333.3}), nil, 1},
		{"one head without loop", unit(0, nil, preset.Head{Delay: 333.3}), nil, 1},
		{"two heads, the loop from a third that is not heard", unit(-6.9, []int{3}, heads()...), []int{1, 2}, 4},
		{"the loop's head alone", unit(-6.9, []int{3}, heads()...), []int{3}, 1},
		{"a head before a loop that is not heard", unit(-6.9, []int{3}, heads()...), []int{1}, 2},
		{"inverted heads", unit(-6.9, []int{3}, inverted...), nil, 5},
		{"a head later than the longest line, reached from another", unit(0, nil, preset.Head{Delay: 700}, preset.Head{Delay: 2100, Level: -3}), nil, 2},
		{"a head alone later than the longest line", unit(0, nil, preset.Head{Delay: 2100}), nil, 2},
		{"a head later than 4 s", unit(0, nil, preset.Head{Delay: 5000}), nil, 4},
		{"a later head behind the loop", unit(-9, []int{1}, preset.Head{Delay: 900}, preset.Head{Delay: 2300, Level: -4}), nil, 2},
		{"five heads without loop", unit(0, nil, preset.Head{Delay: 100}, preset.Head{Delay: 230}, preset.Head{Delay: 360}, preset.Head{Delay: 490}, preset.Head{Delay: 620, Level: -3}), nil, 5},
		{"a loop that turns the polarity, one head", unit(-6, []int{1}, preset.Head{Delay: 300, Inverted: true}), nil, 3},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := fiveLine(t)
			r := arranged(t, pattern(t, c.unit, c.heard...), d)
			late, off := worst(t, r)
			require.LessOrEqual(t, late, tolerableTime)
			require.LessOrEqual(t, off, tolerableLevel)
			require.Empty(t, r.Extra)
			require.Equal(t, c.lines, inUse(d, r.Setting))
			for _, w := range r.Warnings {
				require.NotRegexp(t, "missing|adds|polarity|given up", w)
			}
		})
	}
}

func TestUnusedLinesAreAtRest(t *testing.T) {
	d := fiveLine(t)
	r := arranged(t, pattern(t, unit(-3, []int{1}, preset.Head{Delay: 250})), d)
	rest := d.Rest()
	for _, l := range d.Lines[1:] {
		for _, role := range []profiles.Role{
			profiles.RoleTime, profiles.RoleLevel, profiles.RolePolarity, profiles.RoleFeedback,
			profiles.RoleSource, profiles.RoleHighCut, profiles.RoleLowCut,
		} {
			i := l.Parameter(role)
			require.Equal(t, rest.Codes[i], r.Setting.Codes[i], d.Parameters[i].Name)
		}
	}
}

func TestPolarity(t *testing.T) {
	heads := []preset.Head{{Delay: 121, Level: -7, Inverted: true}, {Delay: 263}, {Delay: 405, Level: -2}}
	d := fiveLine(t)
	for _, c := range []struct {
		name  string
		unit  preset.Unit
		wrong string // what the warning says; "" for none
	}{
		{"an inverted head beside the loop", unit(-6.9, []int{3}, heads...), ""},
		{"a loop that turns the polarity, one head", unit(-6, []int{1}, preset.Head{Delay: 300, Inverted: true}), ""},
		// Head 1 turns the sign each turn. The two lines to spare give heads 2 and 3 their
		// first echoes apart from their repeats, so the first repeat has its sign as well.
		// Wrong are then head 1's first repeat (242 ms, −7 − 6.9 = −13.9 dB) and, loudest,
		// head 2's second: 263 + 2·121 = 505 ms, 0 − 2·6.9 = −13.8 dB.
		{"a loop that turns the polarity, three heads", unit(-6.9, []int{1}, heads...), "of the wrong polarity, the loudest at 505 ms, -13.8 dB"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := arranged(t, pattern(t, c.unit), d)
			if c.wrong == "" {
				require.False(t, containsWarning(r, "polarity"), "%q", r.Warnings)
			} else {
				require.True(t, containsWarning(r, c.wrong), "%q", r.Warnings)
			}
			worst(t, r)
		})
	}
}

func TestEchoToDirect(t *testing.T) {
	d := fiveLine(t)
	level := func(v preset.Decibels) *preset.Decibels { return &v }
	for _, c := range []struct {
		name       string
		ratio      *preset.Decibels
		dry, loud  float64 // levels on the device, dB
		shift, got preset.Decibels
	}{
		{"echoes softer than the direct sound", level(-3), 0, -3, -3, -3},
		{"echoes louder than the direct sound", level(2), -2, 0, 0, 2},
		{"as loud", level(0), 0, 0, 0, 0},
		{"not known", nil, 0, 0, 0, 0},
		{"between two steps", level(-3.2), 0, -3.5, -3.2, -3.2},
		{"far softer", level(-40), 0, -40, -40, -40},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := pattern(t, tradeUnit())
			p.EchoToDirect = c.ratio
			r := arranged(t, p, d)
			require.InDelta(t, c.dry, value(t, d, r.Setting, "dry-level"), 0.51, "a step, and no more than 1 dB, lower")
			require.InDelta(t, c.loud, value(t, d, r.Setting, "b-level"), 0.51, "a step lower")
			require.InDelta(t, float64(c.shift), float64(r.Shift), 0.51, "a step lower")
			require.NotNil(t, r.Direct.Got)
			require.InDelta(t, float64(c.got), float64(*r.Direct.Got), 0.26)
			require.Equal(t, c.ratio == nil, r.Direct.Wanted == nil)
			require.Equal(t, c.ratio == nil, containsWarning(r, "direct sound is beside its echoes is not known"))
		})
	}
}

func TestADeviceWithoutLevelForTheDirectSound(t *testing.T) {
	d := variant(t, edit{"role = \"dry\"\n", ""})
	p := pattern(t, tradeUnit())
	ratio := preset.Decibels(-3)
	p.EchoToDirect = &ratio
	r := arranged(t, p, d)
	require.Nil(t, r.Direct.Got)
	require.True(t, containsWarning(r, "loudest head lies -3.0 dB above it"), "%v", r.Warnings)
}

func TestHeadsNotHeardKeepTheirPlaceInLevel(t *testing.T) {
	// Head 1 alone lies 7 dB below the loudest head of its unit, and stays there:
	// nothing is made louder because others are not heard.
	d := fiveLine(t)
	r := arranged(t, pattern(t, tradeUnit(), 1), d)
	require.InDelta(t, -7, value(t, d, r.Setting, "a-level"), 0.01)
	require.Zero(t, r.Shift)
}

func TestWhatIsToldBesideTheEchoes(t *testing.T) {
	text, err := json.Marshal(arranged(t, pattern(t, unit(0, nil, preset.Head{Delay: 250})), fiveLine(t)).Echoes)
	require.NoError(t, err)
	require.JSONEq(t, `[{"ms": 250, "db": 0, "got_ms": 250, "got_db": 0}]`, string(text))
	text, err = json.Marshal(Echo{At: 250, Level: -3})
	require.NoError(t, err)
	require.JSONEq(t, `{"ms": 250, "db": -3, "got_ms": null, "got_db": null}`, string(text))
	text, err = json.Marshal(Extra{At: 1, Level: -2})
	require.NoError(t, err)
	require.JSONEq(t, `{"ms": 1, "db": -2}`, string(text))
}

func TestPatternsThatAreRefused(t *testing.T) {
	tap := func(delay preset.Millis, level preset.Decibels) preset.Pattern {
		return preset.Pattern{Taps: []preset.Tap{{Head: 2, Delay: delay, Level: level}}}
	}
	nan := math.NaN()
	withLoop := tap(100, 0)
	withLoop.Returns = []preset.Return{{Head: 3, Delay: -5, Gain: -6}}
	withTone := tap(100, 0)
	withTone.Taps[0].Tone.HighCut = preset.Hertz(math.Inf(1))
	withDirect := tap(100, 0)
	ratio := preset.Decibels(nan)
	withDirect.EchoToDirect = &ratio
	for _, c := range []struct {
		name    string
		pattern preset.Pattern
		says    string
	}{
		{"no heads", preset.Pattern{}, "no head is to be heard: choose one at least"},
		{"no delay", tap(0, 0), "head 2: delay 0 ms: from 1 ms to 60000 ms"},
		{"a delay that is no number", tap(preset.Millis(nan), 0), "head 2: delay NaN ms"},
		{"an endless delay", tap(preset.Millis(math.Inf(1)), 0), "from 1 ms to 60000 ms"},
		{"a level that is no number", tap(100, preset.Decibels(nan)), "head 2: NaN dB"},
		{"a level without end", tap(100, preset.Decibels(math.Inf(1))), "head 2: +Inf dB"},
		{"a head above the loudest", tap(100, 0.1), "head 2: 0.1 dB"},
		{"a loop backwards in time", withLoop, "loop from head 3: delay -5 ms"},
		{"a cut at no frequency", withTone, "cuts at"},
		{"an unknown direct sound that is not nil", withDirect, "echo to direct NaN dB"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Arrange(c.pattern, fiveLine(t))
			require.ErrorContains(t, err, "pattern: ")
			require.ErrorContains(t, err, c.says)
		})
	}
}
