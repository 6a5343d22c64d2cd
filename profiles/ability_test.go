package profiles

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The figures are those of the manuals: 0.1 ms and 0.5 dB a step in five-line,
// 0.125 ms in tap-loop, 1200/16383 ms in twin.
func TestWhatDevicesCanDo(t *testing.T) {
	for _, c := range []struct {
		device, parameter string
		count             int
		greatest, step    float64
		overUnity         bool
	}{
		{"five-line", "a-time", 5, 1600, 0.1, false},
		{"five-line", "a-level", 5, 0, 0.5, false},
		{"five-line", "dry-level", 1, 0, 0.5, false},
		{"tap-loop", "tap-0-time", 8, 2047.875, 0.125, false},
		{"tap-loop", "tap-0-level", 8, 0, 48.0 / 126, false},
		{"tap-loop", "feedback", 1, 0.8279, 6.0206, true}, // 20·log10(1.10); from code 1 to 2 it doubles
		{"twin", "line-1-time", 2, 1200, 1200.0 / 16383, false},
		{"twin", "line-1-feedback", 2, -0.1755, 6.0206, false}, // 20·log10(0.98)
		{"open-parameter", "tap-1-level", 4, 0, 0.1, false},
	} {
		t.Run(c.device+" "+c.parameter, func(t *testing.T) {
			a := find(t, shippedDevice(t, c.device).Abilities(), c.parameter)
			require.Equal(t, c.count, a.Count)
			require.InDelta(t, c.greatest, a.Greatest, 1e-4)
			require.InDelta(t, c.step, a.Widest, 1e-4)
			require.InDelta(t, c.step/2, a.Rounding, 1e-4)
			require.Equal(t, c.overUnity, a.OverUnity)
		})
	}
	require.Equal(t, 5, shippedDevice(t, "five-line").Taps())
	require.Equal(t, 8, shippedDevice(t, "tap-loop").Taps())
	require.Equal(t, "clock", find(t, shippedDevice(t, "twin").Abilities(), "line-1-clocked-time").Of)
	require.Equal(t, "left-span", find(t, parsed(t, derivedTimes).Abilities(), "left-near-time").Of)
}

func find(t *testing.T, all []Ability, parameter string) Ability {
	t.Helper()
	for _, a := range all {
		if a.Parameter == parameter {
			return a
		}
	}
	require.Fail(t, "no such ability", parameter)
	return Ability{}
}

func subjects(holes []Hole) []string {
	var all []string
	for _, h := range holes {
		all = append(all, h.Subject)
	}
	return all
}

func TestHolesOfADescription(t *testing.T) {
	whole := fiveLineText(t)
	// five-line.md leaves 8 to 11 of each line's twelve bytes, 65 to 67 and 80 to
	// 93 unused.
	plain := fiveLine(t).Holes()
	require.Equal(t, []string{"memory"}, subjects(plain))
	require.Contains(t, plain[0].Missing, "bytes 8 to 11, 20 to 23, 32 to 35, 44 to 47, 56 to 59, 65 to 67, 80 to 93 of")
	for _, c := range []struct{ name, old, spoiled, hole, missing string }{
		{"a parameter that cannot be sent", "address = 0x61\n", "", "drive", "only with a whole slot"},
		{"a parameter with no place in the memory", "memory = { at = 61 }\n", "", "drive", "without it"},
		{"a parameter that is nowhere", "address = 0x61\nmemory = { at = 61 }\n", "", "drive", "neither sent nor kept"},
		{"no identity", "[identity]\nmanufacturer = \"7D\"        # for schools and experiments, never on a product\nfamily = 5\nmember = 1\n", "", "identity", "cannot be asked what it is"},
		{"no pause between messages", "gap_ms = 4 ", "#", "manners", "too fast"},
		{"a byte more", "at = 61 }", "at = 61, bits = 7 }", "memory", "80 to 93"},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Contains(t, whole, c.old)
			for _, h := range parsed(t, strings.Replace(whole, c.old, c.spoiled, 1)).Holes() {
				if h.Subject == c.hole {
					require.Contains(t, h.Missing, c.missing)
					require.NotEmpty(t, h.Mend)
					return
				}
			}
			require.Fail(t, "the hole is not told")
		})
	}
	mute := subjects(parsed(t, derivedTimes).Holes())
	require.Subset(t, mute, []string{"identity", "readback", "slots", "manners", "left-span", "balance"})
}

// F0 7D 05 unit 10 address(2) value(2) sum F7, the sum the two's complement of
// the bytes from 10h on: for address 0001h (a-level) and value 121 = 00 79h it is
// 80h − (10h + 01h + 79h = 8Ah → 0Ah) = 76h.
func TestExamplesAsTheManualPrintsThem(t *testing.T) {
	var got []Example
	for _, e := range fiveLine(t).Examples(2) {
		if e.Parameter == "a-level" {
			got = append(got, e)
		}
	}
	require.Len(t, got, 3)
	require.Equal(t, []int{0, 60, 121}, []int{got[0].Code, got[1].Code, got[2].Code})
	require.Equal(t, "F0 7D 05 02 10 00 01 00 79 76 F7", got[2].Hex)
	require.Equal(t, 0.0, got[2].Value)
	require.Equal(t, WordSilent, got[0].Value)
	for _, e := range parsed(t, derivedTimes).Examples(0) {
		require.Empty(t, e.Hex, "nothing says how to send %s", e.Parameter)
		require.Empty(t, e.Problem)
	}
}
