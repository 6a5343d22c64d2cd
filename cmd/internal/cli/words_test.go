package cli

import (
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/profiles/emulator"
)

// What a person reads. The figures are worked out elsewhere; here it is whether
// they stand where they are looked for.

func lines(s said) []string { return strings.Split(strings.TrimSuffix(s.out, "\n"), "\n") }

func TestMeasureInWords(t *testing.T) {
	s := millpond(t)
	take := write(t, "mill pond.wav", string(s.take))
	plot := filepath.Join(t.TempDir(), "take.svg")
	e := world(t)
	got := e.run(t, "measure", take, "--heads", "1,3", "--kind", "disc", "--plot", plot, "--into", "millpond")
	require.Equal(t, exitDone, got.code, got.talk)
	text := lines(got)
	require.Regexp(t, `^millpond: 2 heads from 12[45]\.\d\d to 2[45]\d\.\d\d ms, no loop, loudest head -\d\.\d dB to the direct sound$`, text[0])
	require.Empty(t, text[1])
	require.Equal(t, []string{"head", "delay", "ms", "level", "dB", "polarity", "low", "cut", "Hz", "high", "cut", "Hz"}, strings.Fields(text[2]))
	require.Len(t, text, 5)
	require.Contains(t, got.talk, "filed in the library: millpond")
	require.Contains(t, got.talk, "written: "+plot)
	require.Contains(t, string(readAll(t, plot)), "<title>millpond: 2 heads from ")
	shown := e.run(t, "library", "show", "millpond").out
	require.Contains(t, shown, "from mill pond.wav, measured on 2026-03-14")
	require.Contains(t, shown, "disc, revision 1, ")
}

func TestADeviceInWords(t *testing.T) {
	got := world(t).run(t, "device", "show", "five-line")
	for _, line := range []string{
		"five-line: Five delay lines with selectable sources",
		"slots     0 to 63, written and read back; a name of 12 characters",
		"units     0 to 15",
		"manners   4 ms of silence after each message, a buffer of 256 bytes",
		"lines     a, b, c, d, e: those after a are set the same way, so only a is shown",
	} {
		require.Contains(t, lines(got), line)
	}
	for _, row := range []string{
		`a-time +0-16000 +0 +1600 +ms +0\.05`,
		`a-source +0-5 +input, a, b, c, d, e`,
		`a-high-cut +0-31 +500 +16000 +Hz +872\.81 +off`,
		`dry-level +121 +0 +dB +F0 7D 05 00 10 00 60 00 79 17 F7`,
	} {
		require.Regexp(t, "(?m)^"+row+"$", got.out)
	}
	require.NotContains(t, got.out, "b-time")
}

func TestABrokenProfileIsToldLineByLine(t *testing.T) {
	text := strings.Replace(string(fiveLine(t).Source()), "gap_ms", "gap_mz", 1)
	got := world(t).run(t, "device", "check", write(t, "mine.toml", text))
	require.Equal(t, exitFailed, got.code)
	line := 1 + strings.Count(text[:strings.Index(text, "gap_mz")], "\n")
	require.Regexp(t, regexp.MustCompile(`mine\.toml:`+strings.TrimSpace(short(float64(line)))+`: .*gap_mz`), got.talk)
	require.True(t, strings.HasSuffix(got.talk, "mend the file, then try again\n"))
	require.Empty(t, got.out)
}

func TestAPlanInWords(t *testing.T) {
	got := world(t).run(t, "plan", write(t, "fen.toml", someUnit), "--device", "five-line", "--bytes", "--slot", "9")
	text := lines(got)
	require.Regexp(t, `^fen-disc on five-line: \d+ echoes wanted, all to be had within 0\.\d\d ms and 0\.\d\d dB; pattern error -\d\d\.\d dB$`, text[0])
	require.Regexp(t, `(?m)^ +200\.00 +-3\.00 +200\.00 +-3\.\d\d +0\.00 `, got.out)
	require.Regexp(t, `(?m)^line +time ms +level dB +polarity +feedback dB +source +high-cut Hz +low-cut Hz$`, got.out)
	require.Contains(t, text, "slot name: fen-disc")
	require.Contains(t, text, "dry-level: 0 dB")
	require.Contains(t, text, "write slot 9, 118 bytes:")
	require.Contains(t, got.out, "\n  F0 7D 05 00 22 09 ")
	require.Contains(t, got.talk, "warning: how loud the unit's direct sound is", "what is not known is said")
}

func TestALongPlanIsCutAndSaysSo(t *testing.T) {
	text := strings.NewReplacer("gain_db = -6.0", "gain_db = -1.0", "400.0", "80.0", "200.0", "40.0").Replace(someUnit)
	got := world(t).run(t, "plan", write(t, "fen.toml", text), "--device", "five-line", "-q")
	require.Regexp(t, `(?m)^… and \d+ more: --json has them all$`, got.out)
}

func TestConversationsInWords(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		unit := write(t, "fen.toml", someUnit)
		backup := b.with(t, "backup", "--slots", "4-5")
		name := strings.TrimSpace(backup.out)
		require.Equal(t, "2026-03-14-193000-five-line", name, "the name alone, for a script to take")
		require.Contains(t, backup.talk, "2 slots kept, ")

		dry := b.with(t, "push", unit, "--slot", "5", "--dry-run")
		require.Contains(t, dry.talk, "a dry run: nothing is sent to bench:device")
		require.Contains(t, dry.out, "write slot 5, 118 bytes:")

		pushed := b.with(t, "push", unit, "--slot", "5")
		require.Contains(t, pushed.out, "slot 5 holds fen-disc now: read back and verified\n")
		require.Regexp(t, `4 messages, \d+ bytes, \d\.\d\d s; what the slot held before is kept: 2026-03-14-193000-five-line-2`, pushed.out)

		read := b.with(t, "read", "--slot", "5")
		require.Contains(t, read.out, "slot 5 of five-line\nslot name: fen-disc\n")
		require.Regexp(t, `(?m)^ +200\.0 +-3\.0$`, read.out)

		list := b.run(t, "snapshot", "list").out
		require.Regexp(t, `(?m)^2026-03-14-193000-five-line +five-line +2026-03-14 19:30:00 +2 +complete +backup$`, list)
		require.Regexp(t, `(?m) 1 +complete +slot 5 before a push$`, list)
		require.Regexp(t, `(?m)^ +4 +\w+ +\d+$`, b.run(t, "snapshot", "show", name).out)
		require.Contains(t, b.run(t, "snapshot", "show", name, "--slot", "4").out, "slot 4 of five-line\n")
		require.Contains(t, b.run(t, "snapshot", "show", name, "--slot", "9").talk, "does not hold slot 9: it holds slots 4, 5")
		require.Contains(t, b.run(t, "snapshot", "check", name).out, name+": complete, 2 slots, every byte as it was kept\n")

		restored := b.with(t, "restore", name, "--yes")
		require.Contains(t, restored.talk, "slot 5 holds something else: a-time ")
		require.Contains(t, restored.out, "written and verified: slot 5; 1 slot held it already; what was overwritten is kept: ")
		require.Contains(t, b.with(t, "restore", name).out, "nothing to write: the device holds all of "+name+" already\n")
		diff := b.run(t, "snapshot", "diff", name, name+"-2")
		require.Equal(t, "no parameter differs in the slots that both hold: slot 5\n", diff.out)
	})
}

func TestOnlyTheHeadsAskedForAreHeard(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		loopless := strings.Replace(someUnit, "[feedback]\nheads = [3]\ngain_db = -6.0\n", "", 1)
		require.Equal(t, exitDone, b.with(t, "push", write(t, "one.toml", loopless), "--slot", "5", "--heads", "1").code)
		require.Regexp(t, `(?m)^ +200\.0 `, b.with(t, "read", "--slot", "5").out)
		require.NotRegexp(t, `(?m)^ +400\.0 `, b.with(t, "read", "--slot", "5").out)
	})
}

func TestRigsInWords(t *testing.T) {
	e := world(t)
	require.Equal(t, "stage: five-line on raw:/dev/x, unit 2\nleft rack\n",
		e.run(t, "rig", "add", "stage", "--device", "five-line", "--port", "raw:/dev/x", "--unit", "2", "--notes", "left rack").out)
	require.Regexp(t, `(?m)^stage +five-line +raw:/dev/x +2 +left rack$`, e.run(t, "rig", "list").out)
	require.Contains(t, e.run(t, "rig", "remove", "stage").out, "stage lies in the trash now: ")
	for _, c := range []struct {
		args []string
		says string
	}{
		{[]string{"--port", "raw:/dev/x"}, "--device is missing"},
		{[]string{"--device", "five-line"}, "--port is missing"},
		{[]string{"--device", "./mine.toml", "--port", "raw:/dev/x"}, "`echowright library add ./mine.toml` first"},
		{[]string{"--device", "five-line", "--port", "x"}, "a port's name begins with one of"},
		{[]string{"--device", "five-line", "--port", "raw:/dev/x", "--unit", "99"}, "can be set to 0 to 15"},
		{[]string{"--device", "five-line", "--port", "raw:/dev/x\x1b"}, "such as raw:/dev/snd/midiC1D0"},
	} {
		got := e.run(t, append([]string{"rig", "add", "other"}, c.args...)...)
		require.Equal(t, exitMisused, got.code, c.args)
		require.Contains(t, got.talk, c.says)
	}
	require.Empty(t, e.run(t, "rig", "list", "-q", "--json").decode(t)["rig"])
}

func TestHelpIsForCommandsThatThereAre(t *testing.T) {
	e := world(t)
	require.Contains(t, e.run(t, "help", "plan").out, "Examples:")
	require.Contains(t, e.run(t, "help", "library", "add").out, "echowright library add FILE…")
	got := e.run(t, "help", "library", "ad")
	require.Equal(t, exitMisused, got.code)
	require.Contains(t, got.talk, "did you mean `echowright library add`?")
	require.Contains(t, e.run(t).out, "Usage:")
	require.Regexp(t, `^echowright \S+\n$`, e.run(t, "--version").out)
	for _, later := range []string{"trim", "abx"} {
		require.NotContains(t, e.run(t).out, "\n  "+later+" ", "what is not built is not in the help")
		require.Equal(t, exitMisused, e.run(t, later).code)
	}
}
