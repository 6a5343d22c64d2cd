package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/profiles"
)

func TestAChartInThreeForms(t *testing.T) {
	e := world(t)
	s := e.run(t, "device", "chart", "tap-loop")
	require.Equal(t, exitDone, s.code, s.talk)
	require.Contains(t, s.out, "NRPN 01 00")
	require.Contains(t, e.run(t, "device", "chart", "tap-loop", "--form", "markdown").out, "| tap-0-time | NRPN 01 00 |")
	out := filepath.Join(t.TempDir(), "chart.html")
	s = e.run(t, "device", "chart", "twin", "--form", "html", "--out", out)
	require.Equal(t, exitDone, s.code, s.talk)
	page, err := os.ReadFile(out)
	require.NoError(t, err)
	require.Contains(t, string(page), "<!DOCTYPE html>")
	require.Equal(t, exitMisused, e.run(t, "device", "chart", "twin", "--form", "poem").code)
	hasFields(t, e.run(t, "device", "chart", "twin", "--json").decode(t), "Title", "Facts", "Rows")
}

func TestADeviceShowsItsMessagesAboutSlots(t *testing.T) {
	s := world(t).run(t, "device", "show", "twin")
	require.Regexp(t, `(?m)^load slot 199 +B0 00 00 B0 20 01 C0 63$`, s.out)
	hasFields(t, first(t, world(t).run(t, "device", "show", "twin", "--json").decode(t)["slot_message"]), "message", "bytes")
}

func TestANewDeviceIsAWholeProfileThatCanBeChecked(t *testing.T) {
	e := world(t)
	path := filepath.Join(t.TempDir(), "mill-echo.toml")
	s := e.run(t, "device", "new", "mill-echo", "--taps", "4", "--speaks", "nrpn", "--longest", "1500", "--slots", "16", "--out", path)
	require.Equal(t, exitDone, s.code, s.talk)
	require.Contains(t, s.talk, "device check")
	require.Equal(t, exitDone, e.run(t, "device", "check", path).code)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	d, err := profiles.Parse(path, text)
	require.NoError(t, err)
	require.Len(t, d.Lines[0].Taps, 4)
	require.Equal(t, profiles.LoopSum, d.Lines[0].Loop.From)

	s = e.run(t, "device", "new", "mill-echo", "--out", path)
	require.Equal(t, exitMisused, s.code)
	require.Contains(t, s.talk, "is there already")
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, text, kept)
}

func TestANewDeviceThatCannotBeIsRefused(t *testing.T) {
	for want, args := range map[string][]string{
		"0 taps on a line":          {"mill-echo", "--taps", "0"},
		"more need pairs":           {"mill-echo", "--codes", "500"},
		"feeds back its own output": {"mill-echo", "--loop", "sum"},
		"name":                      {"Mill Echo!"},
	} {
		s := world(t).run(t, append([]string{"device", "new"}, args...)...)
		require.Equal(t, exitMisused, s.code, s.talk)
		require.Contains(t, s.talk, want)
		require.Empty(t, s.out)
	}
}

// By the manual: line A's time is address 0, 250 ms is code 2500 = 13 44 in two
// 7-bit bytes; 10+13+44 = 67h, the sum 19.
func TestTryingAParameterShowsWhatPassed(t *testing.T) {
	s := world(t).run(t, "device", "try", "five-line", "--port", "emulator:five-line", "a-time=250ms", "a-level=-6dB")
	require.Equal(t, exitDone, s.code, s.talk)
	require.Contains(t, s.out, "a-time = 250 ms (code 2500)\n  sent      F0 7D 05 00 10 00 00 13 44 19 F7")
	require.Contains(t, s.out, "  received  F0 7D 05 00 7F 10")
	require.Contains(t, s.out, "the device says that it holds code 2500")
	require.Contains(t, s.out, "a-level = -6 dB (code 109)")
	v := world(t).run(t, "device", "try", "five-line", "--port", "emulator:five-line", "a-source=b", "--json").decode(t)
	hasFields(t, first(t, v["tried"]), "parameter", "value", "unit", "code", "sent", "received", "holds")
}

func TestTryingADeviceThatNeverAnswers(t *testing.T) {
	s := world(t).run(t, "device", "try", "tap-loop", "--port", "emulator:tap-loop", "tap-0-time=100ms")
	require.Equal(t, exitDone, s.code, s.talk)
	// NRPN 01 00 to 100/0.125 = 800 = 06 20.
	require.Contains(t, strings.ReplaceAll(s.out, "B0 ", ""), "63 01 62 00 06 06 26 20")
	require.Contains(t, s.out, "nothing came back")
}

func TestTryingWhatCannotBe(t *testing.T) {
	for want, args := range map[string][]string{
		"--port is missing":               {"five-line", "a-time=1ms"},
		"PARAMETER=VALUE":                 {"five-line", "--port", "emulator:five-line", "a-time"},
		`did you mean "a-time"`:           {"five-line", "--port", "emulator:five-line", "a-tine=3ms"},
		"reaches from 0 to 1600 ms":       {"five-line", "--port", "emulator:five-line", "a-time=3s"},
		"name the device and what to set": {"five-line"},
	} {
		s := world(t).run(t, append([]string{"device", "try"}, args...)...)
		require.Equal(t, exitMisused, s.code, "%s: %s", want, s.talk)
		require.Contains(t, s.talk, want)
	}
}
