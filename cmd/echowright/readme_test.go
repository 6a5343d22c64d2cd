package main

import (
	"fmt"
	"os"
	"path/filepath"
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
	folder := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(folder, "readme.txtar"), []byte(script), 0o600))
	testscript.Run(t, testscript.Params{
		Dir: folder,
		Setup: func(e *testscript.Env) error {
			e.Setenv("ECHOWRIGHT_HOME", e.Cd+"/library")
			e.Values[devicesKey] = devices{}
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"device": startDevice},
	})
}
