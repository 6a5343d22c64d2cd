package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTheShelfFromTheCommandLine(t *testing.T) {
	e := world(t)
	home := e.Getenv("ECHOWRIGHT_HOME")
	fen := write(t, "fen.toml", "# mine\n"+someUnit)
	require.Contains(t, e.run(t, "library", "list").talk, "holds no units yet")
	require.NoDirExists(t, home, "looking makes no folder")

	require.Equal(t, "unit fen-disc, revision 1\n", e.run(t, "library", "add", fen).out)
	require.Equal(t, "# mine\n"+someUnit, string(readAll(t, filepath.Join(home, "units", "fen-disc.toml"))), "byte for byte")
	require.Regexp(t, `(?m)^fen-disc +disc +1, 3 +200\.0, 400\.0 `, e.run(t, "library", "list").out)
	require.Contains(t, e.run(t, "library", "show", "fen-disc").out, "fen-disc: 2 heads from 200.00 to 400.00 ms, loop from head 3 at -6.0 dB a turn")

	again := e.run(t, "library", "add", fen)
	require.Equal(t, exitFailed, again.code)
	require.Contains(t, again.talk, "give --replace to move it to the trash")
	other := write(t, "other.toml", strings.Replace(someUnit, "200.0", "201.0", 1))
	require.Equal(t, "unit fen-disc, revision 2\n", e.run(t, "library", "add", other, "--replace").out)

	gone := e.run(t, "library", "remove", "fen-disc")
	require.Contains(t, gone.out, "fen-disc lies in the trash now: ")
	trash, err := os.ReadDir(filepath.Join(home, "trash", "units", "fen-disc"))
	require.NoError(t, err)
	require.Len(t, trash, 2, "the one replaced and the one removed: nothing is deleted")
	require.Equal(t, exitFailed, e.run(t, "library", "show", "fen-disc").code)
}

func TestABrokenFileHidesNoOther(t *testing.T) {
	e := world(t)
	require.Equal(t, exitDone, e.run(t, "library", "add", write(t, "fen.toml", someUnit)).code)
	units := filepath.Join(e.Getenv("ECHOWRIGHT_HOME"), "units")
	require.NoError(t, os.WriteFile(filepath.Join(units, "bad.toml"), []byte("format = 1\n\x1b[2J"), 0o644))
	list := e.run(t, "library", "list")
	require.Equal(t, exitDone, list.code)
	require.Regexp(t, `(?m)^fen-disc `, list.out)
	require.Regexp(t, `(?m)^bad +cannot be read: `, list.out)
	require.NotContains(t, list.out+list.talk, "\x1b")
	for _, one := range e.run(t, "library", "list", "--json").decode(t)["unit"].([]any) {
		unit := one.(map[string]any)
		require.Equal(t, unit["name"] == "bad", unit["error"] != nil)
	}
}

func TestSeveralFilesAtOnce(t *testing.T) {
	e := world(t)
	fen := write(t, "fen.toml", someUnit)
	mill := write(t, "mill.toml", strings.Replace(someUnit, "fen-disc", "mill-disc", 1))
	missing := filepath.Join(t.TempDir(), "missing.toml")
	got := e.run(t, "library", "add", fen, missing, mill)
	require.Equal(t, exitFailed, got.code)
	require.Contains(t, got.talk, "missing.toml: no such file or directory; check the path")
	require.Equal(t, "unit fen-disc, revision 1\n", got.out, "what was done before it failed is said")
}

func TestWhatKindOfFileIsAdded(t *testing.T) {
	for text, want := range map[string]string{
		`format = "echowright-device/1"`:              "device",
		"# a comment\n  format='echowright-unit/2'\n": "unit",
		`name = "x"`: "",
		"":           "",
	} {
		got := ""
		if m := kindOfFile.FindSubmatch([]byte(text)); m != nil {
			got = string(m[1])
		}
		require.Equal(t, want, got)
	}
}

func TestKeepingAUnitThatACommandMade(t *testing.T) {
	e := world(t)
	unit := write(t, "fen.toml", someUnit)
	out := filepath.Join(t.TempDir(), "new.toml")
	got := e.run(t, "retime", unit, "--bpm", "120", "--note", "1/4", "--into", "fen-120", "--out", out)
	require.Equal(t, exitDone, got.code, got.talk)
	filed := readAll(t, filepath.Join(e.Getenv("ECHOWRIGHT_HOME"), "units", "fen-120.toml"))
	require.Equal(t, filed, readAll(t, out))
	require.Contains(t, string(filed), "delay_ms = 500.0\n")

	taken := e.run(t, "retime", unit, "--bpm", "130", "--note", "1/4", "--into", "fen-120", "--out", out)
	require.Equal(t, exitFailed, taken.code)
	require.Equal(t, filed, readAll(t, out), "nothing is written where the name is taken")
	require.Equal(t, exitDone, e.run(t, "retime", unit, "--bpm", "130", "--note", "1/4", "--into", "fen-120", "--replace").code)
	require.Equal(t, exitMisused, e.run(t, "retime", unit, "--bpm", "130", "--note", "1/4", "--into", "../out").code)

	nowhere := e.run(t, "retime", unit, "--bpm", "120", "--note", "1/4", "--out", filepath.Join(t.TempDir(), "no", "folder.toml"))
	require.Equal(t, exitFailed, nowhere.code)
	require.Contains(t, nowhere.talk, "folder.toml")
}

func TestTyposOfferTheNearest(t *testing.T) {
	e := world(t)
	require.Equal(t, exitDone, e.run(t, "library", "add", write(t, "fen.toml", someUnit)).code)
	require.Equal(t, exitDone, e.run(t, "rig", "add", "stage", "--device", "five-line", "--port", "raw:/dev/x").code)
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"library", "show", "fen-disk"}, `"fen-disc"`},
		{[]string{"library", "remove", "fendisc"}, `"fen-disc"`},
		{[]string{"retime", "fen-dics", "--bpm", "120", "--note", "1/4"}, `"fen-disc"`},
		{[]string{"plan", "fen-disc", "--device", "five_line"}, `"five-line"`},
		{[]string{"device", "show", "Five-Line"}, `"five-line"`},
		{[]string{"rig", "show", "stag"}, `"stage"`},
		{[]string{"rig", "remove", "stagee"}, `"stage"`},
		{[]string{"backup", "--rig", "satge"}, `"stage"`},
		{[]string{"emulate", "five-lin"}, `"five-line"`},
		{[]string{"librari", "list"}, "`echowright library`"},
		{[]string{"library", "lits"}, "`echowright library list`"},
		{[]string{"backup", "--rgi", "x"}, "--rig"},
	} {
		got := e.run(t, c.args...)
		require.NotEqual(t, exitDone, got.code)
		require.Contains(t, got.talk, "did you mean "+c.want, c.args)
		require.Empty(t, got.out)
	}
}

func TestNamesComplete(t *testing.T) {
	e := world(t)
	require.Equal(t, exitDone, e.run(t, "library", "add", write(t, "fen.toml", someUnit)).code)
	require.Equal(t, exitDone, e.run(t, "rig", "add", "stage", "--device", "five-line", "--port", "raw:/dev/x").code)
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"library", "show", ""}, "fen-disc"},
		{[]string{"push", "f"}, "fen-disc"},
		{[]string{"retime", ""}, "fen-disc"},
		{[]string{"plan", "x", "--device", ""}, "five-line"},
		{[]string{"device", "show", ""}, "five-line"},
		{[]string{"emulate", ""}, "five-line"},
		{[]string{"backup", "--rig", ""}, "stage"},
		{[]string{"rig", "remove", ""}, "stage"},
		{[]string{"rig", "add", "x", "--port", ""}, "emulator:five-line"},
		{[]string{"measure", "x.wav", "--kind", "d"}, "drum"},
		{[]string{"retime", "x", "--note", "1/16"}, "1/16t"},
	} {
		got := e.run(t, append([]string{"__complete"}, c.args...)...)
		require.Contains(t, strings.Split(got.out, "\n"), c.want, c.args)
	}
	second := e.run(t, "__complete", "library", "show", "fen-disc", "")
	require.NotContains(t, strings.Split(second.out, "\n"), "fen-disc", "one name is enough")
}

func TestALibraryThatCannotBe(t *testing.T) {
	e := world(t)
	file := write(t, "a-file", "")
	got := e.run(t, "library", "list", "--home", file)
	require.Equal(t, exitFailed, got.code)
	require.Contains(t, got.talk, "choose a folder with --home")
	homeless := e
	homeless.Getenv = func(string) string { return "" }
	got = homeless.run(t, "library", "list")
	require.Equal(t, exitFailed, got.code)
	require.Contains(t, got.talk, "--home")
	require.Equal(t, exitDone, homeless.run(t, "__complete", "library", "show", "").code, "completion never fails")
}
