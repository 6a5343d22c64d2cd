package arrange

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/profiles"
)

func fiveLine(t testing.TB) *profiles.Device {
	d, err := profiles.Shipped("five-line")
	require.NoError(t, err)
	return d
}

// An edit is a change to the five-line unit's profile: a device that differs from
// it in one thing.
type edit struct{ from, to string }

func variant(t testing.TB, edits ...edit) *profiles.Device {
	text, err := os.ReadFile("../five-line.toml")
	require.NoError(t, err)
	profile := string(text)
	for _, e := range edits {
		require.Contains(t, profile, e.from, "the profile has changed: change the test with it")
		profile = strings.Replace(profile, e.from, e.to, 1)
	}
	d, err := profiles.Parse("variant.toml", []byte(profile))
	require.NoError(t, err)
	return d
}

// withLines is the five-line unit with fewer of them.
func withLines(n int) []edit {
	names := `"` + strings.Join([]string{"a", "b", "c", "d", "e"}[:n], `", "`) + `"`
	return []edit{
		{`names = ["a", "b", "c", "d", "e"]`, "names = [" + names + "]"},
		{`["input", "a", "b", "c", "d", "e"]`, `["input", ` + names + "]"},
	}
}

// without is the five-line unit whose lines lack a parameter.
func without(t testing.TB, role string, address, memory string) edit {
	text, err := os.ReadFile("../five-line.toml")
	require.NoError(t, err)
	start := strings.Index(string(text), "[[line.parameter]]\nrole = \""+role+"\"")
	require.GreaterOrEqual(t, start, 0, role)
	end := strings.Index(string(text)[start:], "\n\n")
	block := string(text)[start : start+end]
	require.Contains(t, block, "address = "+address)
	require.Contains(t, block, "at = "+memory)
	return edit{block, ""}
}

// tradeUnit is the practice that the five-line unit is measured by: three heads,
// the loop from the last, five lines (common practice, no source).
func tradeUnit() preset.Unit {
	return preset.Unit{
		Heads:    []preset.Head{{Head: 1, Delay: 121, Level: -7}, {Head: 2, Delay: 263}, {Head: 3, Delay: 405, Level: -2}},
		Feedback: &preset.Feedback{Heads: []int{3}, Gain: -6.9},
	}
}

func unit(gain preset.Decibels, fed []int, heads ...preset.Head) preset.Unit {
	u := preset.Unit{Heads: heads}
	for i := range u.Heads {
		u.Heads[i].Head = i + 1
	}
	if len(fed) > 0 {
		u.Feedback = &preset.Feedback{Heads: fed, Gain: gain}
	}
	return u
}

func pattern(t testing.TB, u preset.Unit, heads ...int) preset.Pattern {
	p, err := u.Pattern(heads...)
	require.NoError(t, err)
	return p
}

func arranged(t testing.TB, p preset.Pattern, d *profiles.Device) Result {
	r, err := Arrange(p, d)
	require.NoError(t, err)
	require.NoError(t, d.Check(r.Setting))
	return r
}

// value is what a parameter is set to: a number, or a word.
func value(t testing.TB, d *profiles.Device, s profiles.Setting, name string) any {
	for _, row := range d.Rows(s) {
		if row.Parameter == name {
			return row.Value
		}
	}
	t.Fatalf("no parameter %q", name)
	return nil
}

// inUse counts the lines that are heard or feed another one.
func inUse(d *profiles.Device, s profiles.Setting) int {
	rest, n := d.Rest(), 0
	for _, l := range d.Lines {
		time := l.Parameter(profiles.RoleTime)
		if s.Codes[time] != rest.Codes[time] {
			n++
		}
	}
	return n
}

// worst is how far the echoes got lie from those wanted; every one must be there.
func worst(t testing.TB, r Result) (late preset.Millis, off preset.Decibels) {
	require.NotEmpty(t, r.Echoes)
	for _, e := range r.Echoes {
		require.NotNil(t, e.GotAt, "echo at %v is missing", e.At)
		late = max(late, e.At-*e.GotAt, *e.GotAt-e.At)
		off = max(off, e.Level-*e.GotLevel, *e.GotLevel-e.Level)
	}
	return late, off
}

// loopGains is the gain in dB of one turn of every line that feeds itself.
func loopGains(d *profiles.Device, s profiles.Setting) []preset.Decibels {
	var gains []preset.Decibels
	for _, l := range d.Lines {
		a := d.Amplitude(l.Parameter(profiles.RoleFeedback), s) * d.Tone(l, s).Magnitude(preset.Reference)
		if a > 0 {
			gains = append(gains, preset.FromAmplitude(a))
		}
	}
	return gains
}

func missing(r Result) int {
	n := 0
	for _, e := range r.Echoes {
		if e.GotAt == nil {
			n++
		}
	}
	return n
}
