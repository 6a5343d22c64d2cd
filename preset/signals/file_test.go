package signals

import (
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset/stricttoml"
)

// What is expected of each kind's file, written by hand.
var files = map[Kind]string{
	KindSweep: `format = "echowright-signal/1"
rate_hz = 48000
level_dbfs = -20
lead_ms = 500
tail_ms = 5000
[sweep]
from_hz = 20
to_hz = 20000
seconds = 15
fade_in_ms = 100
fade_out_ms = 5
`,
	KindClicks: `format = "echowright-signal/1"
rate_hz = 48000
level_dbfs = -20
lead_ms = 500
tail_ms = 0
[clicks]
count = 16
spacing_ms = 3000
high_cut_hz = 8000
`,
	KindTone: `format = "echowright-signal/1"
rate_hz = 48000
level_dbfs = -20
lead_ms = 500
tail_ms = 1000
[tone]
frequency_hz = 3150
seconds = 30
fade_ms = 20
`,
	KindSteps: `format = "echowright-signal/1"
rate_hz = 48000
level_dbfs = -20
lead_ms = 500
tail_ms = 0
[steps]
frequency_hz = 400
count = 12
step_db = 3
burst_ms = 100
gap_ms = 1500
fade_ms = 5
`,
}

func TestFilesComeBackByteForByte(t *testing.T) {
	for _, kind := range Kinds() {
		text, err := Format(Default(kind))
		require.NoError(t, err)
		require.Equal(t, files[kind], string(text))
		s, err := Parse("s.toml", text)
		require.NoError(t, err)
		require.Equal(t, Default(kind), s)
	}
}

func TestBrokenFilesAreRefusedInWords(t *testing.T) {
	for _, c := range []struct{ name, old, new, want string }{
		{"a key misspelt", "from_hz", "form_hz", `s.toml:7: unknown key form_hz in [sweep]; did you mean "from_hz"?`},
		{"a key missing", "seconds = 15\n", "", "s.toml:6: seconds in [sweep] is missing"},
		{"no table", "[sweep]\nfrom_hz = 20\nto_hz = 20000\nseconds = 15\nfade_in_ms = 100\nfade_out_ms = 5\n", "", "holds 0 of [sweep]"},
		{"two tables", "[sweep]", "[tone]\nfrequency_hz = 3150\nseconds = 3\nfade_ms = 0\n[sweep]", "holds 2 of [sweep]"},
		{"a number in quotes", "to_hz = 20000", `to_hz = "20000"`, "s.toml:8: to_hz in [sweep]"},
		{"nan", "level_dbfs = -20", "level_dbfs = nan", "write a finite number"},
		{"too loud", "level_dbfs = -20", "level_dbfs = 20", "s.toml:3: level_dbfs 20: must lie from -80 to 0"},
		{"a file of another kind", "echowright-signal/1", "echowright-unit/1", "is that of a unit file"},
		{"a file from the future", "echowright-signal/1", "echowright-signal/2", "update echowright"},
		{"a file too long", "[sweep]", strings.Repeat("#", Limit) + "\n[sweep]", "a signal file at most 65536"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Parse("s.toml", []byte(strings.Replace(files[KindSweep], c.old, c.new, 1)))
			require.ErrorContains(t, err, c.want)
			var wrong *stricttoml.FormatError
			var newer *stricttoml.UnsupportedError
			require.NotEqual(t, errors.As(err, &wrong), errors.As(err, &newer))
		})
	}
}

func TestASignalThatNoFileCanHoldIsNotWritten(t *testing.T) {
	_, err := Format(Signal{})
	require.ErrorContains(t, err, "the signal cannot be written: rate_hz 0: must lie from 8000 to 192000")
}

func FuzzParse(f *testing.F) {
	for _, text := range files {
		f.Add([]byte(text))
	}
	f.Add([]byte("format = \"echowright-signal/1\"\nrate_hz = 8e3\nlevel_dbfs = -0.0\nlead_ms = 2e1\ntail_ms = 1e-7\ntone = {frequency_hz = 0x7d0, seconds = 1, fade_ms = 0}"))
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := Parse("f", text)
		if err != nil {
			require.Zero(t, s)
			return
		}
		canonical, err := Format(s)
		require.NoError(t, err)
		again, err := Parse("again", canonical)
		require.NoError(t, err)
		require.Equal(t, s, again)
		second, err := Format(again)
		require.NoError(t, err)
		require.Equal(t, string(canonical), string(second))
		block := make([]float64, 64)
		s.Fill(block, s.Frames()/2)
	})
}
