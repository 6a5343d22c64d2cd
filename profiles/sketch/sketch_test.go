package sketch

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/profiles"
)

func some() Answers {
	return Answers{Name: "mill-echo", Title: "Mill echo", Lines: 1, Taps: 4, Loop: LoopTap, Speaks: ByNRPN, Longest: 1500, Codes: 1501, Slots: 16}
}

// Every sketch is a whole and consistent profile, whatever was answered.
func TestEverySketchIsAWholeProfile(t *testing.T) {
	for _, speaks := range []Speaks{ByControl, ByPairs, ByNRPN, ByExclusive} {
		for _, shape := range []Answers{
			{Lines: 1, Taps: 1, Loop: LoopOwn},
			{Lines: 2, Taps: 1, Loop: LoopOwn, Slots: 100},
			{Lines: 5, Taps: 1, Loop: LoopOwn, Sources: true, Slots: 64},
			{Lines: 2, Taps: 1, Loop: NoLoop},
			{Lines: 1, Taps: 8, Loop: LoopTap, Slots: 128},
			{Lines: 1, Taps: 4, Loop: LoopSum, Slots: 1},
			{Lines: 2, Taps: 3, Loop: LoopTap},
			{Lines: 2, Taps: 3, Loop: NoLoop},
		} {
			a := shape
			a.Name, a.Title, a.Speaks, a.Longest, a.Codes = "mill-echo", "Mill echo", speaks, 1000, 128
			t.Run(fmt.Sprintf("%s, %d lines of %d taps, loop %s", speaks, a.Lines, a.Taps, a.Loop), func(t *testing.T) {
				text, err := a.Profile()
				require.NoError(t, err)
				d, err := profiles.Parse("mill-echo.toml", text)
				require.NoError(t, err, "%s", text)
				require.Len(t, d.Lines, a.Lines)
				require.Len(t, d.Lines[0].Taps, a.Taps)
				require.Equal(t, a.Sources, d.Lines[0].Has(profiles.RoleSource))
				require.Equal(t, a.Loop != NoLoop, d.Lines[0].Has(profiles.RoleFeedback))
				longest, ok, err := d.Number(d.Lines[0].Taps[0].Parameter(profiles.RoleTime), codes(d, 127))
				require.NoError(t, err)
				require.True(t, ok)
				require.InDelta(t, 1000, longest, 0.01, "127 steps, rounded to six decimals")
				for i := range d.Parameters {
					require.True(t, d.Sendable(i), d.Parameters[i].Name)
				}
			})
		}
	}
}

// codes is a setting with the first time at a code.
func codes(d *profiles.Device, code int) profiles.Setting {
	s := d.Rest()
	s.Codes[d.Lines[0].Taps[0].Parameter(profiles.RoleTime)] = code
	return s
}

func TestAnswersThatCannotBe(t *testing.T) {
	for want, change := range map[string]func(*Answers){
		"needs a name":                             func(a *Answers) { a.Name = "" },
		"0 delay lines: from 1":                    func(a *Answers) { a.Lines = 0 },
		"17 taps on a line: from 1 to 16":          func(a *Answers) { a.Taps = 17 },
		"memory places":                            func(a *Answers) { a.Slots = 1000 },
		"a longest time of -3 ms":                  func(a *Answers) { a.Longest = -3 },
		"1 codes for a time":                       func(a *Answers) { a.Codes = 1 },
		"more need pairs, nrpn or exclusive":       func(a *Answers) { a.Speaks = ByControl },
		"no output of its own to feed back":        func(a *Answers) { a.Loop = LoopOwn },
		"feeds back its own output":                func(a *Answers) { a.Taps = 1 },
		"sources are for several lines":            func(a *Answers) { a.Sources = true },
		`loop "spiral"`:                            func(a *Answers) { a.Loop = "spiral" },
		`messages "smoke"`:                         func(a *Answers) { a.Speaks = "smoke" },
		"there are not enough controllers for all": func(a *Answers) { a.Speaks, a.Lines, a.Taps, a.Codes = ByControl, 4, 16, 128 },
	} {
		t.Run(want, func(t *testing.T) {
			a := some()
			change(&a)
			_, err := a.Profile()
			require.ErrorContains(t, err, want)
		})
	}
}

func TestWhatOnlyTheManualKnowsIsMarked(t *testing.T) {
	text, err := some().Profile()
	require.NoError(t, err)
	require.Contains(t, string(text), "(manual)")
	require.Contains(t, string(text), "echowright device check")
}
