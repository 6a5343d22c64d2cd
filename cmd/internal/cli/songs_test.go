package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi/songfile"
	"echowright/preset"
)

// ebb is a set of three songs for someUnit, whose heads 1 and 3 lie at 200 and
// 400 ms, the loop from head 3.
const ebb = `format = "echowright-songs/1"
name = "ebb"
[[song]]
title = "Flood"
tempo_bpm = 120
unit = "fen.toml"
note = "1/4"
slot = 4
[[song]]
title = "Slack Water"
tempo_bpm = 132
unit = "fen.toml"
heads = [3]
note = "1/8."
slot = 9
[[song]]
title = "Ebb"
tempo_bpm = 97
unit = "fen.toml"
mode = "grid"
grid = ["1/8", "1/4"]
slot = 6
`

// writeSet puts a sheet beside someUnit and gives the sheet's path.
func writeSet(t *testing.T, sheet string) string {
	t.Helper()
	folder := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(folder, "fen.toml"), []byte(someUnit), 0o644))
	path := filepath.Join(folder, "sheet.toml")
	require.NoError(t, os.WriteFile(path, []byte(sheet), 0o644))
	return path
}

func TestASetIsPlanned(t *testing.T) {
	v := world(t).run(t, "songs", "plan", writeSet(t, ebb), "--device", "five-line", "--json", "-q").decode(t)
	require.Equal(t, "ebb", v["sheet"])
	require.Equal(t, "five-line", v["device"])
	songs := v["song"].([]any)
	require.Len(t, songs, 3)
	// 60000/BPM a quarter: 500 ms at 120; a dotted eighth at 132 lasts 340.909 ms; at
	// 97 a quarter lasts 618.557 and an eighth 309.278 ms, so that 200 ms is moved by
	// +109.278 and 400 ms by -90.722 ms.
	for i, want := range []struct {
		title  string
		speed  float64
		delays []float64
		head   float64 // the worst
		shift  float64
		jnd    float64 // 6 ms up to 240 ms, 2.5 % above
	}{
		{"Flood", 400.0 / 500, []float64{250, 500}, 1, 0, 6.25},
		{"Slack Water", 400 / 340.909091, []float64{340.909091}, 3, 0, 0.025 * 340.909091},
		{"Ebb", 1, []float64{309.278351, 309.278351}, 1, 109.278351, 0.025 * 309.278351},
	} {
		s := hasFields(t, songs[i], "title", "unit", "mode", "slot", "tempo_bpm", "speed_ratio", "reach", "retimed", "worst_head", "worst_shift_ms",
			"just_noticeable_ms", "echoes", "missing", "level_off_db", "extra", "pattern_error_db", "beyond", "offer", "holds", "message", "warnings")
		require.Equal(t, want.title, s["title"])
		require.InDelta(t, want.speed, s["speed_ratio"], 1e-6, want.title)
		require.Equal(t, want.head, s["worst_head"], want.title)
		require.InDelta(t, want.shift, s["worst_shift_ms"], 1e-6, want.title)
		require.InDelta(t, want.jnd, s["just_noticeable_ms"], 1e-6, want.title)
		var delays []float64
		for _, h := range s["retimed"].([]any) {
			delays = append(delays, h.(map[string]any)["delay_ms"].(float64))
		}
		require.InDeltaSlice(t, want.delays, delays, 1e-6, want.title)
		require.Zero(t, s["missing"], want.title)
		require.Nil(t, s["offer"], want.title)
		require.Nil(t, s["holds"], "nothing was read")
	}
	require.Contains(t, songs[2].(map[string]any)["warnings"], "heads 1 and 3 fall on one note value, 1/8, and become one echo")
	require.Equal(t, "trim", songs[1].(map[string]any)["reach"])
}

func TestASetInWords(t *testing.T) {
	got := world(t).run(t, "songs", "plan", writeSet(t, ebb), "--device", "five-line")
	require.Equal(t, exitDone, got.code, got.talk)
	require.Contains(t, lines(got), "ebb on five-line: 3 songs, 3 with all their echoes")
	require.Regexp(t, `(?m)^song +BPM +note +speed +off ms +just noticeable ms +slot +error dB +cannot be had$`, got.out)
	require.Regexp(t, `(?m)^Flood +120 +1/4, head 3 +0\.8000 +0\.0 +6\.2 +4 +-\d\d\.\d$`, got.out)
	require.Regexp(t, `(?m)^Slack Water +132 +1/8\., head 3 +1\.1733 +0\.0 +8\.5 +9 +-\d\d\.\d$`, got.out)
	require.Regexp(t, `(?m)^Ebb +97 +grid +1\.0000 +\+109\.3 +7\.7 +6 +-\d\d\.\d$`, got.out)
	require.Contains(t, lines(got), "would be overwritten: slots 4, 9, 6")
	require.Contains(t, got.talk, "warning: Ebb: heads 1 and 3 fall on one note value")
}

// TestASongIsPlannedLikeItsUnit holds a song against the plan of its unit with the
// same words.
func TestASongIsPlannedLikeItsUnit(t *testing.T) {
	sheet := writeSet(t, ebb)
	unit := filepath.Join(filepath.Dir(sheet), "fen.toml")
	set := world(t).run(t, "songs", "plan", sheet, "--device", "five-line", "--json", "-q").decode(t)["song"].([]any)
	for i, flags := range [][]string{
		{"--bpm", "120", "--note", "1/4"},
		{"--bpm", "132", "--note", "1/8.", "--heads", "3"},
		{"--bpm", "97", "--mode", "grid", "--grid", "1/8,1/4"},
	} {
		one := world(t).run(t, append([]string{"plan", unit, "--device", "five-line", "--json", "-q"}, flags...)...).decode(t)
		require.Equal(t, one["pattern_error_db"], set[i].(map[string]any)["pattern_error_db"])
		require.Len(t, set[i].(map[string]any)["message"], len(one["message"].([]any)))
	}
}

func TestTheLevelOfTheEchoBesideTheDirectSound(t *testing.T) {
	known := &preset.Direct{EchoToDirect: -3}
	for _, c := range []struct {
		name   string
		direct *preset.Direct
		level  preset.Decibels
		want   *preset.Decibels
		minded bool
	}{
		{"as it is", known, 0, new(preset.Decibels(-3)), false},
		{"louder", known, 2, new(preset.Decibels(-1)), false},
		{"softer", known, -4.5, new(preset.Decibels(-7.5)), false},
		{"not known, and nothing asked", nil, 0, nil, false},
		{"not known", nil, 2, new(preset.Decibels(2)), true},
	} {
		s := setSong{tempo: 100, unit: preset.Unit{Name: "u", Heads: []preset.Head{{Head: 1, Delay: 200}}, Direct: c.direct}}
		s.Mode, s.EchoLevel = "nearest", c.level
		b, err := bring(s)
		require.NoError(t, err)
		require.Equal(t, c.want, b.pattern.EchoToDirect, c.name)
		require.Equal(t, c.minded, len(b.remarks) > 0, c.name)
	}
	require.Equal(t, preset.Decibels(-3), known.EchoToDirect, "the unit stays as it was")
}

func TestTheWorstHeadIsOneThatIsHeard(t *testing.T) {
	s := setSong{tempo: 120, unit: preset.Unit{Name: "u", Heads: []preset.Head{{Head: 1, Delay: 250}, {Head: 2, Delay: 290}, {Head: 3, Delay: 510}}}}
	s.Mode = "nearest"
	b, err := bring(s)
	require.NoError(t, err)
	// Of 250, 166.7·2 = 333.3 (1/4t), 500 ms: head 2 is 40 ms beside an eighth.
	require.Equal(t, shifted{head: 2, by: 40, jnd: 7.25}, b.worst())
	s.Heads = []int{3, 1}
	b, err = bring(s)
	require.NoError(t, err)
	require.Equal(t, shifted{head: 3, by: 10, jnd: 12.75}, b.worst())
	require.InDelta(t, 10/12.75, b.worst().noticed(), 1e-9)
}

func TestWhatASheetCannotHaveIsToldSongBySong(t *testing.T) {
	song := func(lines string) string { return strings.Replace(ebb, "tempo_bpm = 132\n", lines, 1) }
	for _, c := range []struct {
		name, sheet string
		code        int
		says        []string
	}{
		{"a unit that is not in the library", strings.Replace(ebb, `"fen.toml"`, `"fen-disk"`, 2), exitFailed,
			[]string{`song sheet "ebb" cannot be used as it is:`, `song "Flood": no unit "fen-disk" in the library`, `song "Slack Water": no unit "fen-disk"`}},
		{"a unit's file that is not there", strings.Replace(ebb, `"fen.toml"`, `"fan.toml"`, 1), exitFailed, []string{`song "Flood": file `, `fan.toml: `, "check the path and its spelling"}},
		{"a tempo map that is not there", song("tempo_map = \"slack.mid\"\n"), exitFailed, []string{`song "Slack Water": file `, "slack.mid: ", "check the path"}},
		{"a head that the unit does not have", strings.Replace(ebb, "heads = [3]", "heads = [2]", 1), exitFailed, []string{`song "Slack Water": unit "fen-disc" has no head 2: it has [1 3]`}},
		{"an anchor that the unit does not have", strings.Replace(ebb, "heads = [3]", "head = 2", 1), exitFailed, []string{`song "Slack Water": unit "fen-disc" has no head 2: it has [1 3]`}},
		{"a delay that no unit has", song("tempo_bpm = 1000\n") + "[[song]]\ntitle = \"Rip\"\ntempo_bpm = 1000\nunit = \"fen.toml\"\nnote = \"1/64\"\nhead = 3\nslot = 1\n" +
			"[[song]]\ntitle = \"Spring\"\ntempo_bpm = 10\nunit = \"fen.toml\"\nnote = \"1/1.\"\nhead = 1\nslot = 2\n", exitFailed,
			[]string{`song "Spring": unit "fen-disc" with head 1 on 1/1. at 10 BPM: head 3 would come to 7.2e+04 ms`}},
		{"a slot twice", strings.Replace(ebb, "slot = 9", "slot = 4", 1), exitFailed, []string{`sheet.toml:15: song "Slack Water": slot 4 is that of "Flood" too`, "mend the file"}},
		{"a tempo of 0", song("tempo_bpm = 0\n"), exitFailed, []string{`sheet.toml:11: song "Slack Water": tempo 0: must lie from 10 to 1000`}},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, args := range [][]string{{"check"}, {"plan", "--device", "five-line"}} {
				got := world(t).run(t, append([]string{"songs", args[0], writeSet(t, c.sheet)}, args[1:]...)...)
				require.Equal(t, c.code, got.code)
				require.Empty(t, got.out)
				for _, s := range c.says {
					require.Contains(t, got.talk, s)
				}
			}
		})
	}
}

func TestCheckingASheet(t *testing.T) {
	e := world(t)
	got := e.run(t, "songs", "check", writeSet(t, ebb))
	require.Equal(t, exitDone, got.code)
	require.Contains(t, got.out, "ebb: 3 songs, nothing wrong with it")
	v := e.run(t, "songs", "check", writeSet(t, ebb), "--json").decode(t)
	require.Equal(t, 3.0, v["songs"])
	require.Empty(t, v["fault"])
	w := hasFields(t, first(t, v["warning"]), "song", "text")
	require.Equal(t, "Ebb", w["song"])

	got = e.run(t, "songs", "check", writeSet(t, strings.ReplaceAll(ebb, "fen.toml", "fen")), "--json")
	require.Equal(t, exitFailed, got.code)
	got.code = exitDone // the result is whole all the same
	require.Len(t, got.decode(t)["fault"], 3)
}

// TestFilesOfASheetByTheirWholePaths moves a sheet away from the files that it names:
// to another folder, then into the library.
func TestFilesOfASheetByTheirWholePaths(t *testing.T) {
	folder := filepath.Dir(writeSet(t, ebb))
	midiFile(t, filepath.Join(folder, "flood.mid"), []songfile.TempoChange{{Tempo: 500_000}})
	near := strings.Replace(ebb, "tempo_bpm = 120", `tempo_map = "flood.mid"`, 1)
	whole := strings.ReplaceAll(strings.ReplaceAll(near, "fen.toml", folder+"/fen.toml"), "flood.mid", folder+"/flood.mid")
	e := world(t)
	require.Equal(t, exitDone, e.run(t, "songs", "check", write(t, "whole.toml", whole)).code)
	require.Equal(t, exitDone, e.run(t, "library", "add", write(t, "whole.toml", whole)).code)
	v := e.run(t, "songs", "plan", "ebb", "--device", "five-line", "--json", "-q").decode(t)
	require.Equal(t, 120.0, first(t, v["song"]).(map[string]any)["tempo_bpm"])

	require.Equal(t, exitDone, e.run(t, "library", "add", "--replace", write(t, "near.toml", near)).code)
	for _, args := range [][]string{{"songs", "check", "ebb"}, {"songs", "plan", "ebb", "--device", "five-line"}} {
		got := e.run(t, args...)
		require.Equal(t, exitFailed, got.code)
		require.Contains(t, got.talk, `song "Ebb": file `)
		require.Contains(t, got.talk, "name units of the library, and files by their whole paths")
	}
}

func TestWrongUseOfSongs(t *testing.T) {
	sheet := writeSet(t, ebb)
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"songs"}, exitMisused, "name what to do: check, "},
		{[]string{"songs", "plan"}, exitMisused, "SHEET is missing"},
		{[]string{"songs", "plan", sheet}, exitMisused, "which device? Give --rig or --device"},
		{[]string{"songs", "plan", sheet, "--device", "five-line", "--port", "emulator:five-line"}, exitMisused, "--port is for --look: without that nothing is sent"},
		{[]string{"songs", "plan", sheet, "--device", "five-line", "--trace", "x"}, exitMisused, "--trace is for --look"},
		{[]string{"songs", "plan", sheet, "--device", "twin", "--port", "emulator:twin", "--look"}, exitMisused, `device "twin" never says what its slots hold`},
		{[]string{"songs", "push", sheet, "--device", "five-line", "--port", "emulator:five-line", "--dry-run", "--trace", "x"}, exitMisused, "--trace and --dry-run"},
		{[]string{"songs", "plan", sheet, "--device", "five-line", "--look"}, exitMisused, "which device? Give --rig, or --device and --port"},
		{[]string{"songs", "plan", sheet, "--device", "five-lime"}, exitFailed, `did you mean "five-line"`},
		{[]string{"songs", "plan", sheet, "--device", write(t, "pedal.toml", pedal)}, exitMisused, "a set list needs one for each song"},
		{[]string{"songs", "plan", "tidewrack", "--device", "five-line"}, exitFailed, `no song sheet "tidewrack" in the library: ` + "`echowright songs list`"},
		{[]string{"songs", "check", filepath.Join(filepath.Dir(sheet), "fen.toml")}, exitFailed, `is that of a unit file; give a songs file here`},
		{[]string{"songs", "push", sheet}, exitMisused, "which device? Give --rig, or --device and --port"},
		{[]string{"songs", "push", sheet, "--device", "five-line", "--port", "file:" + filepath.Join(t.TempDir(), "x.syx")}, exitMisused, "`echowright songs export --syx` writes the slots into a file"},
	} {
		got := world(t).run(t, c.args...)
		require.Equal(t, c.code, got.code, "%v: %s", c.args, got.talk)
		require.Contains(t, got.talk, c.says, c.args)
		require.Empty(t, got.out, c.args)
	}
}

func TestASlotThatTheDeviceDoesNotHave(t *testing.T) {
	got := world(t).run(t, "songs", "plan", writeSet(t, strings.Replace(ebb, "slot = 6", "slot = 64", 1)), "--device", "five-line")
	require.Equal(t, exitFailed, got.code)
	require.Contains(t, got.talk, `song "Ebb": slot 64: device "five-line" has slots 0 to 63`)
}

func TestASongTakesItsUnitInTheRevisionThatItNames(t *testing.T) {
	e := world(t)
	e.run(t, "library", "add", write(t, "fen.toml", someUnit))
	e.run(t, "library", "add", "--replace", write(t, "fen.toml", strings.Replace(someUnit, "400.0", "440.0", 1)))
	for unit, speed := range map[string]float64{"fen-disc": 440.0 / 500, "fen-disc@2": 440.0 / 500, "fen-disc@1": 400.0 / 500} {
		sheet := write(t, "ebb.toml", strings.ReplaceAll(ebb, "fen.toml", unit))
		v := e.run(t, "songs", "plan", sheet, "--device", "five-line", "--json", "-q").decode(t)
		require.InDelta(t, speed, first(t, v["song"]).(map[string]any)["speed_ratio"], 1e-9, unit)
	}
	got := e.run(t, "songs", "check", write(t, "ebb.toml", strings.ReplaceAll(ebb, "fen.toml", "fen-disc@3")))
	require.Equal(t, exitFailed, got.code)
	require.Contains(t, got.talk, `song "Flood": no unit "fen-disc@3" in the library: did you mean "fen-disc@2"?`)
	require.NotContains(t, got.talk, "mend the file")
}

func TestSheetsOfTheLibrary(t *testing.T) {
	e := world(t)
	require.Contains(t, e.run(t, "songs", "list").talk, "holds no song sheets")
	require.Equal(t, []any{}, e.run(t, "songs", "list", "--json").decode(t)["sheet"])
	e.run(t, "library", "add", write(t, "fen.toml", someUnit))
	sheet := strings.ReplaceAll(ebb, "fen.toml", "fen-disc")
	require.Contains(t, e.run(t, "library", "add", write(t, "ebb.toml", sheet)).out, "song sheet ebb, revision 1")
	require.Regexp(t, `(?m)^ebb +3 +1$`, e.run(t, "songs", "list").out)
	hasFields(t, first(t, e.run(t, "songs", "list", "--json").decode(t)["sheet"]), "name", "songs", "revision")
	require.Equal(t, exitDone, e.run(t, "songs", "plan", "ebb", "--device", "five-line").code)
	require.Contains(t, e.run(t, "__complete", "songs", "plan", "").out, "ebb\n")

	home := e.Getenv("ECHOWRIGHT_HOME")
	require.NoError(t, os.WriteFile(filepath.Join(home, "songs", "ebb.toml"), []byte("format = 'echowright-songs/1'\n"), 0o644))
	require.Regexp(t, `(?m)^ebb +cannot be read: `, e.run(t, "songs", "list").out)
	require.Contains(t, e.run(t, "songs", "check", "ebb").talk, "a file of the library cannot be used")
}
