package main

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"
)

// section is what stands in README.md below a title.
func section(t *testing.T, title string) string {
	t.Helper()
	text, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	_, below, found := strings.Cut(string(text), "\n## "+title+"\n")
	require.True(t, found, title)
	within, _, _ := strings.Cut(below, "\n## ")
	return within
}

// shownCommands are the lines of a section that are to be typed.
func shownCommands(text string) []string {
	var all []string
	for line := range strings.Lines(text) {
		if strings.HasPrefix(line, "    ") && strings.HasPrefix(strings.TrimSpace(line), "echowright ") {
			all = append(all, strings.TrimSpace(line))
		}
	}
	return all
}

// What the README says about devices is done as it stands there, one command
// after the other, with the unit and the rig that its steps before have made. A
// SNAPSHOT is the oldest one.
func TestTheCommandsOfTheReadmeRun(t *testing.T) {
	t.Parallel() // it waits for the wire most of the time
	commands := shownCommands(section(t, "Devices, safely"))
	require.Greater(t, len(commands), 5)
	script := `device box healthy
exec echowright library add my-drum-132.toml
exec echowright rig add stage --device five-line --port unix:box
`
	for _, c := range commands {
		c = strings.ReplaceAll(c, "SNAPSHOT", "$(ls library/snapshots | head -n 1)")
		if strings.HasPrefix(c, "echowright restore ") {
			c += " --yes" // nobody is there to be asked
		}
		script += fmt.Sprintf("exec sh -c '%s'\n", c)
	}
	script += "-- my-drum-132.toml --\nformat = \"echowright-unit/1\"\nname = \"my-drum-132\"\nkind = \"drum\"\n" +
		"[[head]]\nhead = 1\ndelay_ms = 200.0\nlevel_db = 0.0\ninverted = false\n"
	runReadme(t, script)
}

// runReadme runs the commands of a section as one script.
func runReadme(t *testing.T, script string) {
	t.Helper()
	folder := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(folder, "readme.txtar"), []byte(script), 0o600))
	testscript.Run(t, testscript.Params{
		Dir: folder,
		Setup: func(e *testscript.Env) error {
			e.Setenv("ECHOWRIGHT_HOME", e.Cd+"/library")
			e.Values[devicesKey] = devices{}
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"device": startDevice, "clock": startClock, "appears": awaitFile,
		},
	})
}

// What the README says of tempo is done as it stands there with the unit of the
// example set, and every figure that it shows is one that the program prints. The
// clock comes from a socket, at 120 BPM for six beats.
func TestTheTempoOfTheReadme(t *testing.T) {
	t.Parallel() // it waits for the clock most of the time
	unit, err := os.ReadFile("../../examples/saltmarsh-drum-1.toml")
	require.NoError(t, err)
	script := `device box healthy
clock sequencer played 120:6
exec echowright library add my-drum.toml
exec echowright rig add stage --device five-line --port unix:box
`
	shown := section(t, "Tempo")
	commands := shownCommands(shown)
	require.Len(t, commands, 6)
	for i, c := range commands {
		if strings.HasPrefix(c, "echowright follow ") {
			c = strings.ReplaceAll(c, "raw:/dev/snd/midiC2D0", "unix:sequencer")
			script += "exec " + c + " &follow&\nappears played\nkill -INT follow\nwait follow\n" +
				"stdout 'five-line holds the times of 1[12]\\d\\.\\d\\d BPM: .*head 6 3[678]\\d\\.\\d ms'\n" // 375 ms within 2.5 % and a busy machine
			continue
		}
		script += "exec " + c + "\n"
		if i == 0 {
			lines := printed(shown, c)
			require.Equal(t, 5, strings.Count(lines, "\n"), "its lines of the example")
			script += lines +
				"stdout ' 3040$'\nstdout '; wow 0\\.1 % at 0\\.85 Hz$'\n"
		}
	}
	for _, said := range []string{"measured at 356.20 ms", "from 3200 to 3040 Hz", "0.1 % of the speed, at 0.85 Hz instead of 0.9 Hz"} {
		require.Contains(t, strings.ReplaceAll(shown, "\n", " "), said)
	}
	for _, measured := range []string{"delay_ms = 356.2\n", "high_cut_hz = 3200\n", "wow_percent = 0.1\n", "wow_hz = 0.9\n"} {
		require.Contains(t, string(unit), measured)
	}
	runReadme(t, script+"-- my-drum.toml --\n"+strings.Replace(string(unit), `"saltmarsh-drum-1"`, `"my-drum"`, 1))
}

// printed demands of a command's output each line that is shown below it.
func printed(text, command string) (script string) {
	_, below, _ := strings.Cut(text, command+"\n")
	for line := range strings.Lines(below) {
		line, shown := strings.CutPrefix(strings.TrimRight(line, "\n"), "    ")
		if !shown {
			break
		}
		script += fmt.Sprintf("stdout '^%s$'\n", regexp.QuoteMeta(line))
	}
	return script
}

// What the README says of songs is done as it stands there with the example set, and
// what is shown of the plan is printed. Its MIDI files begin as RP-001 has them.
func TestTheSongsOfTheReadme(t *testing.T) {
	t.Parallel() // it waits for the wire most of the time
	shown := section(t, "Songs")
	commands := shownCommands(shown)
	require.Len(t, commands, 6)
	examples, err := filepath.Abs("../../examples")
	require.NoError(t, err)
	script := fmt.Sprintf("device box healthy\nexec cp %[1]s/saltmarsh-evening.toml %[1]s/saltmarsh-drum-1.toml .\n", examples) +
		"exec echowright rig add stage --device five-line --port unix:box\n"
	for i, c := range commands {
		if strings.HasPrefix(c, "echowright songs push ") {
			c += " --yes" // nobody is there to be asked
		}
		script += "exec " + c + "\n"
		if i == 1 {
			_, low, found := strings.Cut(shown, "\n    Low Water: ")
			require.True(t, found)
			low, _, _ = strings.Cut(low, "\n")
			script += fmt.Sprintf("stdout '^Low Water: %s$'\n", regexp.QuoteMeta(low))
		}
	}
	runReadme(t, script+`exec sh -c 'ls library/snapshots | wc -l'
stdout '^ *1$'
exec sh -c 'head -c 4 evening.mid; head -c 4 evening/8-slack-tide.mid'
stdout '^MThdMThd$'
exists evening.syx
exec echowright songs plan saltmarsh-evening.toml --rig stage --look
stdout '^nothing would be overwritten: all slots hold their songs$'
`)
}
