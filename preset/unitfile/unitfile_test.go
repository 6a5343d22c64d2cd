package unitfile

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/stricttoml"
)

// Every file of testdata/broken says in its first line what is to be said of it.
func TestBrokenFilesAreRefusedInWords(t *testing.T) {
	files, err := filepath.Glob("testdata/broken/*.toml")
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(files), 50)
	for _, path := range files {
		t.Run(strings.TrimSuffix(filepath.Base(path), ".toml"), func(t *testing.T) {
			text, err := os.ReadFile(path)
			require.NoError(t, err)
			first, _, _ := strings.Cut(string(text), "\n")
			want, ok := strings.CutPrefix(first, "# want: ")
			require.True(t, ok, "the first line says what is wanted")

			_, err = Parse("u.toml", text)
			require.Error(t, err)
			require.True(t, strings.HasPrefix(err.Error(), "u.toml:"+want), "want u.toml:%s\ngot  %v", want, err)
			require.NotContains(t, err.Error(), "\n", "one mistake, one line")
			var wrong *stricttoml.FormatError
			var newer *stricttoml.UnsupportedError
			require.Equal(t, strings.Contains(path, "newer"), errors.As(err, &newer))
			require.NotEqual(t, errors.As(err, &wrong), errors.As(err, &newer))
		})
	}
}

func TestCanonicalFilesComeBackByteForByte(t *testing.T) {
	files, err := filepath.Glob("testdata/canonical/*.toml")
	require.NoError(t, err)
	require.Len(t, files, 3)
	for _, path := range files {
		t.Run(filepath.Base(path), func(t *testing.T) {
			text, err := os.ReadFile(path)
			require.NoError(t, err)
			u, err := Parse(path, text)
			require.NoError(t, err)
			again, err := Format(u)
			require.NoError(t, err)
			require.Equal(t, string(text), string(again))
		})
	}
}

func TestParseGivesTheUnitOfTheFile(t *testing.T) {
	text, err := os.ReadFile("testdata/canonical/saltmarsh-drum-1.toml")
	require.NoError(t, err)
	got, err := Parse("u.toml", text)
	require.NoError(t, err)
	require.Equal(t, preset.Unit{
		Name: "saltmarsh-drum-1", Kind: preset.Drum, Notes: "belt renewed, head 3 worn",
		Origin: &preset.Origin{
			Take:       "saltmarsh-heads-246.wav",
			TakeSHA256: "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
			Measured:   time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC),
		},
		Heads: []preset.Head{
			{Head: 2, Delay: 118.42, DelaySD: 0.06, Level: -6.8, LevelSD: 0.1, LowCutHz: 70, HighCutHz: 3200},
			{Head: 4, Delay: 237, Inverted: true},
			{Head: 6, Delay: 355.25, Level: -7, HighCutHz: 2812.5},
		},
		Feedback: &preset.Feedback{Heads: []int{6}, Gain: -8.1, GainSD: 0.2},
		Direct:   &preset.Direct{EchoToDirect: -3},
		Motion:   &preset.Motion{SpeedRatio: 1.002, WowPercent: 0.15, WowHz: 0.9, FlutterPercent: 1, FlutterHz: 12},
		Drive:    &preset.Drive{Gain: 6},
	}, got)
}

// By hand one writes TOML in many ways: the first writing changes the text and
// no value, the second changes nothing.
const byHand = "\ufeff# measured at the workshop\r\n" + `
kind='tape' # not a drum
name = "by-hand"
notes = """
belt renewed,
head 3 worn"""
format = "echowright-unit/1"
feedback = {heads = [3], gain_db = -8}
head = [
  {head = 1, delay_ms = 1_20, level_db = -0.0}, # nearest
  {head = 3, delay_ms = 2.4e2, level_db = -6, high_cut_hz = 0x7d0, low_cut_hz = 0.0},
]
[origin]
measured = 1999-12-31
[motion]
wow_hz = 1.50
`

func TestFilesWrittenByHandKeepTheirValues(t *testing.T) {
	u, err := Parse("u.toml", []byte(byHand))
	require.NoError(t, err)
	text, err := Format(u)
	require.NoError(t, err)
	require.Equal(t, `format = "echowright-unit/1"
name = "by-hand"
kind = "tape"
notes = "belt renewed,\nhead 3 worn"
[origin]
measured = 1999-12-31
[[head]]
head = 1
delay_ms = 120.0
level_db = 0.0
inverted = false
[[head]]
head = 3
delay_ms = 240.0
level_db = -6.0
inverted = false
high_cut_hz = 2000
[feedback]
heads = [3]
gain_db = -8.0
[motion]
wow_hz = 1.5
`, string(text))
	requireSame(t, u, text)
}

func requireSame(t *testing.T, u preset.Unit, text []byte) {
	t.Helper()
	again, err := Parse("again.toml", text)
	require.NoError(t, err)
	require.Equal(t, u, again)
	second, err := Format(again)
	require.NoError(t, err)
	require.Equal(t, string(text), string(second))
}

func TestTheLargestFile(t *testing.T) {
	text := []byte(byHand)
	text = append(text, bytes.Repeat([]byte("#"), Limit-len(text))...)
	_, err := Parse("u.toml", text)
	require.NoError(t, err)
	_, err = Parse("u.toml", append(text, '\n'))
	require.EqualError(t, err, "u.toml: has 1048577 bytes, a unit file at most 1048576; is this the right file?")
}

func TestAUnitThatNoFileCanHoldIsNotWritten(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*preset.Unit)
		want   string
	}{
		{"no name", func(u *preset.Unit) { u.Name = "" }, `unit "" cannot be written: name is empty`},
		{"no head", func(u *preset.Unit) { u.Heads = nil }, `unit "u" cannot be written: head is missing`},
		{"notes that are not UTF-8", func(u *preset.Unit) { u.Notes = "h\xf6rbar" }, `text "h\xf6rbar" is not UTF-8`},
		{"a take that is not UTF-8", func(u *preset.Unit) { u.Origin = &preset.Origin{Take: "\xff.wav"} }, `text "\xff.wav" is not UTF-8`},
		{"a day long ago", func(u *preset.Unit) { u.Origin = &preset.Origin{Measured: time.Date(1812, 1, 2, 0, 0, 0, 0, time.UTC)} }, `origin: measured 1812-01-02T00:00:00Z`},
		{"a day far ahead", func(u *preset.Unit) {
			u.Origin = &preset.Origin{Measured: time.Date(12026, 1, 2, 0, 0, 0, 0, time.UTC)}
		}, `origin: measured 12026-01-02`},
	} {
		t.Run(c.name, func(t *testing.T) {
			u := preset.Unit{Name: "u", Kind: preset.Tape, Heads: []preset.Head{{Head: 1, Delay: 100}}}
			_, err := Format(u)
			require.NoError(t, err)
			c.change(&u)
			text, err := Format(u)
			require.ErrorContains(t, err, c.want)
			require.Nil(t, text)
		})
	}
}

func TestTheDayIsKeptInWhateverZoneItWasTaken(t *testing.T) {
	east := time.FixedZone("far east", 13*3600)
	u := preset.Unit{Name: "u", Kind: preset.Tape, Heads: []preset.Head{{Head: 1, Delay: 100}},
		Origin: &preset.Origin{Measured: time.Date(2026, 3, 14, 1, 30, 0, 0, east)}}
	text, err := Format(u)
	require.NoError(t, err)
	require.Contains(t, string(text), "\nmeasured = 2026-03-14\n")
	got, err := Parse("u.toml", text)
	require.NoError(t, err)
	require.Equal(t, time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC), got.Origin.Measured)
}

func BenchmarkParse(b *testing.B) {
	text, err := os.ReadFile("testdata/canonical/saltmarsh-drum-1.toml")
	require.NoError(b, err)
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		if _, err := Parse("u.toml", text); err != nil {
			b.Fatal(err)
		}
	}
}
