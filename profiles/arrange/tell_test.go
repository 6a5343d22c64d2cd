package arrange

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

func TestNumbersInWords(t *testing.T) {
	require.Equal(t, "526 ms", ms(526))
	require.Equal(t, "526.1 ms", ms(526.1234))
	require.Equal(t, "12000 ms", ms(12000.04))
	require.Equal(t, "-13.9 dB", db(-13.9001))
	require.Equal(t, "1 echo", echoes(1))
	require.Equal(t, "2 echoes", echoes(2))
	require.Equal(t, "405 ms, -2.0 dB", at(preset.Echo{At: 405, Level: -2}))
}

func TestWhatIsMissingHeadByHead(t *testing.T) {
	wanted := func(head, turn int, at preset.Millis, level preset.Decibels, there bool) pair {
		p := pair{wanted: preset.Echo{Head: head, Turn: turn, At: at, Level: level}}
		if there {
			got := p.wanted
			p.got = &got
		}
		return p
	}
	for _, c := range []struct {
		name  string
		pairs []pair
		says  []string
	}{
		{"all there", []pair{wanted(1, 0, 100, 0, true), wanted(1, 1, 200, -6, true)}, nil},
		{"the first echo", []pair{wanted(1, 0, 100, 0, false), wanted(1, 1, 200, -6, true)}, []string{"head 1 (100 ms, 0.0 dB) is missing"}},
		{"all repeats", []pair{wanted(1, 0, 100, 0, true), wanted(1, 1, 200, -6, false), wanted(1, 2, 300, -12, false)},
			[]string{"the repeats of head 1 (from 200 ms, -6.0 dB) are missing"}},
		{"some repeats", []pair{wanted(1, 0, 100, 0, true), wanted(1, 1, 200, -6, true), wanted(1, 2, 300, -12, false)},
			[]string{"1 of the 2 repeats of head 1 are missing, the loudest at 300 ms, -12.0 dB"}},
		{"everything", []pair{wanted(1, 0, 100, 0, false), wanted(1, 1, 200, -6, false)},
			[]string{"head 1 (100 ms, 0.0 dB) is missing", "the repeats of head 1 (from 200 ms, -6.0 dB) are missing"}},
		{"another head", []pair{wanted(2, 0, 100, 0, false)}, nil},
	} {
		require.Equal(t, c.says, lostOf(1, c.pairs), c.name)
	}
}

func TestRoundingIsToldFromWhereItIsHeard(t *testing.T) {
	one := func(wanted, got preset.Echo) []pair { return []pair{{wanted, &got}} }
	for _, c := range []struct {
		name  string
		pairs []pair
		says  string // "" for nothing
	}{
		{"as asked", one(preset.Echo{At: 100}, preset.Echo{At: 100}), ""},
		{"by 0.15 ms", one(preset.Echo{At: 100}, preset.Echo{At: 100.149}), ""},
		{"by more", one(preset.Echo{At: 100}, preset.Echo{At: 100.2}), "times are up to 0.20 ms off: an echo comes at 100.20 ms in place of 100.00 ms"},
		{"by 0.5 dB", one(preset.Echo{At: 100}, preset.Echo{At: 100, Level: 0.5}), ""},
		{"louder by more", one(preset.Echo{At: 100, Level: -3}, preset.Echo{At: 100, Level: -2.3}), "levels are up to 0.7 dB off: the echo at 100 ms has -2.3 dB in place of -3.0 dB"},
		{"nothing got", []pair{{wanted: preset.Echo{At: 100}}}, ""},
	} {
		var said telling
		said.rounding(c.pairs)
		require.Equal(t, c.says, strings.Join(said, "\n"), c.name)
	}
}

func TestNothingIsToldWhereAllIsWell(t *testing.T) {
	// Every figure lies on the device's scales, and the direct sound is known.
	p := pattern(t, unit(0, nil, preset.Head{Delay: 100, Level: -6}, preset.Head{Delay: 250.5}))
	ratio := preset.Decibels(-3)
	p.EchoToDirect = &ratio
	r := arranged(t, p, fiveLine(t))
	require.Empty(t, r.Warnings)
	require.NotNil(t, r.Warnings, "a list, not null, in JSON")
	require.Equal(t, preset.LeastError, r.Error)
}
