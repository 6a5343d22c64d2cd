package profiles

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset/stricttoml"
)

func fiveLineText(t testing.TB) string {
	t.Helper()
	text, err := shipped.ReadFile("five-line.toml")
	require.NoError(t, err)
	return string(text)
}

func TestShippedProfiles(t *testing.T) {
	require.Equal(t, []string{"five-line", "open-parameter", "tap-loop", "twin", "two-by-three"}, Names())
	for _, name := range Names() {
		d, err := Shipped(name)
		require.NoError(t, err)
		require.Equal(t, name, d.Name)
		require.Len(t, d.SHA256(), 64)
		require.NoError(t, d.Check(d.Rest()))
	}
}

func TestUnknownDeviceOffersTheNearest(t *testing.T) {
	_, err := Shipped("five-lime")
	var unknown *UnknownError
	require.ErrorAs(t, err, &unknown)
	require.Equal(t, "five-line", unknown.Nearest)
	_, err = Shipped("zzz")
	require.ErrorContains(t, err, "device list")
}

func TestTheFiveLineUnitAsParsed(t *testing.T) {
	d := fiveLine(t)
	require.Len(t, d.Lines, 5)
	require.Len(t, d.Parameters, 5*7+4)
	require.Equal(t, "dry-level", d.Parameters[d.Dry].Name)
	require.Equal(t, 12, d.NameLength)
	require.Equal(t, 0, d.FirstSlot)
	require.Equal(t, 63, d.LastSlot)
	require.True(t, d.HasSlots())
	require.True(t, d.Readable())
	code, ok := d.SourceCode(d.Lines[4], 2)
	require.True(t, ok)
	require.Equal(t, 3, code, "source code 3 is line c")
	code, ok = d.SourceCode(d.Lines[4], None)
	require.True(t, ok)
	require.Zero(t, code)
}

// Each case spoils the shipped profile in one place and names the message.
var brokenProfiles = []struct{ name, old, spoiled, want string }{
	{"another kind of file", `format = "echowright-device/1"`, `format = "echowright-unit/1"`, "is that of a unit file"},
	{"a newer version", `format = "echowright-device/1"`, `format = "echowright-device/2"`, "newer echowright"},
	{"an unknown key", `gap_ms = 4 `, `gap_sm = 4 `, `did you mean "gap_ms"?`},
	{"a wrong type", `buffer_bytes = 256`, `buffer_bytes = "256"`, "buffer_bytes"},
	{"a name that is no file name", `name = "five-line"`, `name = "../five"`, "lower-case"},
	{"a manufacturer of two bytes", `manufacturer = "7D"`, `manufacturer = "00 20"`, "one byte, or three"},
	{"a manufacturer that is no hex", `manufacturer = "7D"`, `manufacturer = "7G"`, "identity.manufacturer"},
	{"a family over 14 bits", `family = 5`, `family = 16384`, "from 0 to 16383"},
	{"a gap below 0", `gap_ms = 4 `, `gap_ms = -4 `, "from 0 to 60000"},
	{"unit numbers the wrong way round", `units = [0, 15]`, `units = [15, 0]`, "first and the last"},
	{"an unknown checksum", `kind = "twos-complement"`, `kind = "twos-complemet"`, `did you mean "twos-complement"?`},
	{"no checksum described", "[checksum]\nkind = \"twos-complement\"", "", "but the profile no checksum"},
	{"a message without its end", `({command} {slot} {dump}) {sum} F7"
flash`, `({command} {slot} {dump}) {sum}"
flash`, "ends with F7"},
	{"a byte over 7 bits in SysEx", `reply = "F0 7D 05 {unit} (12`, `reply = "F0 7D 85 {unit} (12`, "85 has more than 7 bits"},
	{"half a byte", `reply = "F0 7D 05 {unit} (12`, `reply = "F0 7D 5 {unit} (12`, "two hex digits"},
	{"an unknown place", `{address:7x2} {value:7x2}) {sum} F7"

[message.ask]`, `{adress:7x2} {value:7x2}) {sum} F7"

[message.ask]`, "the places are"},
	{"a form that cannot be", `({command} {address:7x2}) {sum}`, `({command} {address:8x2}) {sum}`, "BITSxCOUNT"},
	{"a checksum over itself", `({command} {slot}) {sum} F7"
reply`, `({command} {slot} {sum}) F7"
reply`, "after its range"},
	{"a checksum without a range", `({command} {slot}) {sum} F7"
reply`, `{command} {slot} {sum} F7"
reply`, "go together"},
	{"two ranges", `({command} {slot}) {sum} F7"
reply`, `({command}) ({slot}) {sum} F7"
reply`, "stands twice"},
	{"a missing reply", `reply = "F0 7D 05 {unit} (21 {slot} {dump}) {sum} F7"`, ``, "reply in [message.ask_slot] is missing"},
	{"a meaning that is none", `means = "busy"`, `means = "bussy"`, "one of done, data, busy"},
	{"an unknown scale", `scale = "feedback"`, `scale = "feedbck"`, `did you mean "feedback"?`},
	{"a scale in the wrong unit", `scale = "time"`, `scale = "level"`, `told in "ms"`},
	{"a scale that is not monotonic", `linear = { code = 0, is = 0.0, step = 0.1 }`, `linear = { code = 0, is = 0.0, step = 0.0 }`, "not monotonic"},
	{"no feedback described as silent", "silent = 0\namplitude", "amplitude", "code 0 has no finite value"},
	{"an unknown role", `role = "feedback"`, `role = "feedbak"`, "one of"},
	{"a role twice", `role = "polarity"`, `role = "level"`, "each role once"},
	{"no line at all", `names = ["a", "b", "c", "d", "e"]`, `names = []`, "from 1 to 64"},
	{"a line twice", `names = ["a", "b", "c", "d", "e"]`, `names = ["a", "b", "c", "d", "a"]`, "stands twice"},
	{"a source that is no line", `choices = ["input", "a", "b", "c", "d", "e"]`, `choices = ["input", "a", "b", "c", "d", "f"]`, `"f" is neither`},
	{"a line called input", `names = ["a", "b", "c", "d", "e"]`, `names = ["a", "b", "c", "d", "input"]`, "means the input"},
	{"a parameter twice", `name = "wobble-rate"`, `name = "wobble-depth"`, "stands twice"},
	{"an address twice", `address = 0x63`, `address = 0x62`, "address 62h belongs to wobble-rate and to wobble-depth"},
	{"addresses of lines that overlap", `address_step = 0x10`, `address_step = 0x1`, "belongs to"},
	{"memory of lines that overlaps", `memory_step = 12`, `memory_step = 6`, "belongs to"},
	{"a field outside the memory", `memory = { at = 61 }`, `memory = { at = 96 }`, "bytes 0 to 95"},
	{"a field over another", `memory = { at = 61 }`, `memory = { at = 60 }`, "byte 60 belongs to dry-level and to drive"},
	{"a field too small for its codes", `memory = { at = 0, bytes = 2, low_first = true }`, `memory = { at = 0 }`, "code 16000 of scale"},
	{"bits outside a byte", `memory = { at = 4, bits = 1 }`, `memory = { at = 4, bit = 8, bits = 1 }`, "8 bits of one byte"},
	{"a rest that is no code", `rest = 31`, `rest = 32`, "codes 0 to 31"},
	{"a second dry level", `role = "drive"`, `role = "dry"`, "there is one"},
	{"a name over the edge", "at = 68", "at = 90", "memory.name.at"},
	{"a check over itself", "to = 93", "to = 94", "inside its own range"},
	{"a check from behind", "from = 0", "from = 94", "lies before"},
	{"an unknown check", `kind = "crc-16"`, `kind = "crc-32"`, "crc-16"},
	{"an unknown packing", `packing = "file-dump"`, `packing = "filedump"`, `did you mean "file-dump"?`},
	{"slots over 7 bits", `slots = [0, 63]`, `slots = [0, 128]`, "slot 128: its place in the message holds 0 to 127"},
	{"no memory for the slots", "[memory]", "[memories]", "memor"},
}

func TestBrokenProfiles(t *testing.T) {
	text := fiveLineText(t)
	for _, c := range brokenProfiles {
		t.Run(c.name, func(t *testing.T) {
			require.Contains(t, text, c.old, "the case no longer fits the profile")
			_, err := Parse("broken.toml", []byte(strings.Replace(text, c.old, c.spoiled, 1)))
			require.ErrorContains(t, err, c.want)
			require.Regexp(t, `^broken\.toml:\d+: `, err.Error(), "file and line")
		})
	}
}

func TestEveryMistakeIsTold(t *testing.T) {
	text := strings.NewReplacer(`family = 5`, `family = -1`, `at = 61`, `at = 60`, `rest = 31`, `rest = 99`).Replace(fiveLineText(t))
	_, err := Parse("p.toml", []byte(text))
	require.ErrorContains(t, err, "family")
	require.ErrorContains(t, err, "rest")
}

func TestTooLargeProfile(t *testing.T) {
	_, err := Parse("p.toml", []byte(strings.Repeat("#", 2<<20)))
	var format *stricttoml.FormatError
	require.True(t, errors.As(err, &format))
	require.ErrorContains(t, err, "1048576")
}

func FuzzParse(f *testing.F) {
	f.Add(fiveLineText(f))
	for _, c := range brokenProfiles {
		f.Add(strings.Replace(fiveLineText(f), c.old, c.spoiled, 1))
	}
	for _, text := range []string{derivedTimes, strings.NewReplacer("LOOP", `from = "sum"`, "CHOICE", "").Replace(twoMemories)} {
		f.Add(text)
	}
	corpus, err := filepath.Glob("testdata/broken/*.toml")
	require.NoError(f, err)
	for _, file := range corpus {
		text, err := os.ReadFile(file)
		require.NoError(f, err)
		f.Add(string(text))
	}
	f.Fuzz(func(t *testing.T, text string) {
		d, err := Parse("f.toml", []byte(text))
		if err != nil {
			return
		}
		rest := d.Rest()
		require.NoError(t, d.Check(rest))
		if n, err := d.Network(rest); !errors.Is(err, ErrClock) {
			require.NoError(t, err)
			require.Equal(t, 1+len(d.Lines), n.Nodes)
		}
		require.Len(t, d.Rows(rest), len(d.Parameters))
		d.Holes()
		d.Abilities()
		for _, e := range d.Examples(0) {
			require.True(t, d.Parameters[d.Parameter(e.Parameter)].Scale.Holds(e.Code))
		}
		if d.Readable() || d.HasSlots() {
			require.Len(t, d.AppendSlot(nil, d.Rest()), d.memory.bytes)
		}
	})
}
