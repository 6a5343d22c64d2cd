package cli

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/cmd/internal/ui"
	"echowright/profiles"
)

func TestADeviceReadByTapsInWords(t *testing.T) {
	got := world(t).run(t, "device", "show", "two-by-three")
	for _, line := range []string{
		"slots     1 to 32, written and read back; a name of 7 characters",
		"lines     a, b: those after a are set the same way, so only a is shown",
		"taps      tap-1, tap-2, tap-3: those after tap-1 are set the same way, so only tap-1 is shown",
		"fed back  tap-3, after its level; cuts in the loop alone",
	} {
		require.Contains(t, lines(got), line)
	}
	for _, row := range []string{
		// by the manual: fortieths of a percent of 1999 ms are half a millisecond
		`time +6 +0 +100 +% +0\.025 +0\.025 +0\.013 +of a-longest, up to 1999 ms in steps of 0\.5 ms`,
		`a-longest +2 +50 +1999 +ms +1 +1 +0\.5`,
		`a-feedback +1 +-0\.087 +dB inverted +F0 7D 09 00 20 01 00 00 01 20 F7`,
		`a-longest +50 +50 +ms +F0 7D 09 00 24 00 00 32 16 F7`,
	} {
		require.Regexp(t, "(?m)^"+row+"$", got.out)
	}
	require.NotContains(t, got.out, "a-tap-2-time")
	require.NotContains(t, got.out, "b-longest")
	require.NotContains(t, got.out, "left open")
}

func TestWhatADescriptionLeavesOpenIsTold(t *testing.T) {
	got := world(t).run(t, "device", "show", "tap-loop")
	require.Contains(t, lines(got), "channels  1 to 16")
	require.Contains(t, got.out, "fed back  one tap, chosen by feedback-tap, before its level; cuts at the memory's input")
	require.Regexp(t, `(?m)^feedback +1 .* 0 dB and more howls, and is never chosen$`, got.out)
	require.Contains(t, got.out, "left open by the description:\n  identity: ")
	require.Contains(t, got.out, "    mend: [identity]")
	require.Contains(t, world(t).run(t, "device", "show", "open-parameter").out, "no code is silent")
}

func TestEveryDeviceShowsEveryKindOfItsParameters(t *testing.T) {
	for _, name := range profiles.Names() {
		d, err := profiles.Shipped(name)
		require.NoError(t, err)
		v := viewDevice(d)
		require.Len(t, v.Parameters, len(d.Parameters))
		shown := map[*profiles.Scale]bool{}
		for i, p := range v.Parameters {
			require.NotEmpty(t, p.Examples, p.Name)
			for _, e := range p.Examples {
				require.Empty(t, e.Problem, p.Name)
				require.NotEmpty(t, e.Message, p.Name)
			}
			if !p.alike {
				shown[d.Parameters[i].Scale] = true
			}
		}
		for _, p := range d.Parameters {
			require.True(t, shown[p.Scale], "%s: no parameter of scale %s is shown", name, p.Scale.Name)
		}
		v2 := world(t).run(t, "device", "show", name, "--json").decode(t)
		hasFields(t, v2, "name", "line", "parameter", "ability", "hole", "units", "by_channel")
	}
}

// What a narrow terminal shows is the same in shorter lines; only a message is as
// long as it is.
func TestANarrowTerminalShowsTheDeviceToo(t *testing.T) {
	d, err := profiles.Shipped("two-by-three")
	require.NoError(t, err)
	var out strings.Builder
	c := &call{out: ui.Screen{Writer: &out, Width: 50}}
	v := viewDevice(d)
	c.printAbilities(v.Abilities)
	c.printParameters(shownParameters(v))
	for _, line := range strings.Split(out.String(), "\n") {
		require.LessOrEqual(t, len([]rune(line)), 68, "the widest column, %q, beside the first", line)
	}
	require.Contains(t, out.String(), "a-tap-1-time")
	require.Contains(t, out.String(), "up to 1999 ms in steps of 0.5 ms")
}
