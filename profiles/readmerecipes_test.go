package profiles

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

// What the guide's table of manuals' sayings offers must do what the manual says:
// the bytes and values are worked by hand from the saying itself.
func TestWhatTheGuideOffersDoesWhatManualsSay(t *testing.T) {
	const sevenBits = "codes = [0, 127]\n"
	for _, c := range []struct {
		scale, way, tables string // what is offered
		code               int
		bytes              string
		value              float64
	}{
		{"unit = \"ms\"\n" + sevenBits + "linear = { code = 0, is = 0.0, step = 8.0 }", "control = 20", "", 127, "B0 14 7F", 1016},
		// 300 = 2·128 + 44
		{"unit = \"ms\"\ncodes = [0, 16383]\nlinear = { code = 0, is = 0.0, step = 1.0 }", "control = [12, 44]", "", 300, "B0 0C 02 B0 2C 2C", 300},
		{"unit = \"ms\"\n" + sevenBits + "linear = { code = 0, is = 0.0, step = 1.0 }", "nrpn = \"01 08\"", "[nrpn]\nvalue = 7\n", 5, "B0 63 01 B0 62 08 B0 06 05", 5},
		{"unit = \"dB\"\n" + sevenBits + "silent = 0\nlinear = { code = 127, is = 0.0, step = 0.5 }", "control = 20", "", 1, "B0 14 01", -63},
		{"unit = \"dB\"\ncodes = [1, 127]\nsilent = 64\namplitude = { full = 127, is = 0.99, zero = 64 }", "control = 20", "", 127, "B0 14 7F", 20 * math.Log10(0.99)},
		{"unit = \"Hz\"\n" + sevenBits + "piecewise = [[0, 50.0], [127, 5000.0]]\nbetween = \"exponential\"", "control = 20", "", 127, "B0 14 7F", 5000},
		{"codes = [1, 96]\nunit = \"samples\"\nsample_rate_hz = 48000\nlinear = { code = 0, is = 0.0, step = 1.0 }", "control = 20", "", 48, "B0 14 30", 1},
		// 90 = 5Ah
		{"unit = \"ms\"\n" + sevenBits + "linear = { code = 0, is = 0.0, step = 1.0 }", "send = \"F0 7D {value:4x2} F7\"", "", 90, "F0 7D 05 0A F7", 90},
		{"unit = \"ms\"\n" + sevenBits + "linear = { code = 0, is = 0.0, step = 1.0 }", "send = \"F0 7D {value:4x2<} F7\"", "", 90, "F0 7D 0A 05 F7", 90},
		{"unit = \"ms\"\ncodes = [0, 63]\nlinear = { code = 0, is = 0.0, step = 1.0 }", "send = \"F0 7D {value+64} F7\"", "", 1, "F0 7D 41 F7", 1},
		// 10 + 70 = 80h: 128 − (128 mod 128) comes to 0 in seven bits
		{"unit = \"ms\"\n" + sevenBits + "linear = { code = 0, is = 0.0, step = 1.0 }", "send = \"F0 7D (10 {value}) {sum} F7\"", "[checksum]\nkind = \"twos-complement\"\n", 0x70, "F0 7D 10 70 00 F7", 112},
		// 10 + 75 = 85h, AND 7F = 05
		{"unit = \"ms\"\n" + sevenBits + "linear = { code = 0, is = 0.0, step = 1.0 }", "send = \"F0 7D (10 {value}) {sum} F7\"", "[checksum]\nkind = \"sum\"\n", 0x75, "F0 7D 10 75 05 F7", 117},
		// the complement of 10 + 05 = 15h in seven bits is 6A
		{"unit = \"ms\"\n" + sevenBits + "linear = { code = 0, is = 0.0, step = 1.0 }", "send = \"F0 7D (10 {value}) {sum} F7\"", "[checksum]\nkind = \"ones-complement\"\n", 5, "F0 7D 10 05 6A F7", 5},
		{"unit = \"ms\"\n" + sevenBits + "linear = { code = 0, is = 0.0, step = 1.0 }", "send = \"F0 7D {count} [10 {value}] F7\"", "", 5, "F0 7D 02 10 05 F7", 5},
	} {
		text := fmt.Sprintf("format = \"echowright-device/1\"\nname = \"said\"\n[manners]\n%s[scale.time]\nunit = \"ms\"\ncodes = [0, 9]\nlinear = { step = 1.0 }\n[scale.said]\n%s\n"+
			"[line]\nnames = [\"a\"]\n[[line.parameter]]\nrole = \"time\"\nscale = \"time\"\ncontrol = 3\n[[parameter]]\nname = \"said\"\nscale = \"said\"\n%s\n", c.tables, c.scale, c.way)
		d, err := Parse("said.toml", []byte(text))
		require.NoError(t, err, text)
		i := d.Parameter("said")
		step, err := d.SetStep(0, i, c.code)
		require.NoError(t, err, text)
		require.Equal(t, c.bytes, midi.Hex(step.Send), text)
		require.InDelta(t, c.value, d.Parameters[i].Scale.Value(c.code).Number, 1e-9, text)
		for _, key := range strings.Split(c.way, "\n") {
			if offered, _, ok := strings.Cut(key, " = \"F0"); !ok {
				require.Contains(t, guide(t), "`"+key+"`", offered)
			}
		}
	}
}
