package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/require"

	"echowright/library"
	"echowright/library/exchange"
	"echowright/midi/transfer"
	"echowright/preset/measure"
)

// said is what a run of the program gave.
type said struct {
	out, talk string
	code      int
}

// world is an Env for tests: a library of its own, and a day that stands still.
func world(t testing.TB, args ...string) Env {
	t.Helper()
	home := filepath.Join(t.TempDir(), "library")
	return Env{
		Args: args, Stdin: strings.NewReader(""), Stdout: io.Discard, Stderr: io.Discard,
		Getenv: func(key string) string { return map[string]string{"ECHOWRIGHT_HOME": home}[key] },
		Now:    func() time.Time { return time.Date(2026, 3, 14, 19, 30, 0, 0, time.UTC) },
		Ports:  Ports(),
	}
}

func (e Env) run(t *testing.T, args ...string) said {
	t.Helper()
	var out, talk bytes.Buffer
	e.Args, e.Stdout, e.Stderr = args, &out, &talk
	code := Run(t.Context(), e)
	return said{out.String(), talk.String(), code}
}

func (s said) decode(t *testing.T) map[string]any {
	t.Helper()
	require.Equal(t, exitDone, s.code, s.talk)
	var v map[string]any
	require.NoError(t, json.Unmarshal([]byte(s.out), &v), s.out)
	return v
}

// write puts a file into a folder of the test's own.
func write(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	return path
}

const someUnit = `format = "echowright-unit/1"
name = "fen-disc"
kind = "disc"
[[head]]
head = 1
delay_ms = 200.0
level_db = -3.0
inverted = false
[[head]]
head = 3
delay_ms = 400.0
level_db = 0.0
inverted = false
[feedback]
heads = [3]
gain_db = -6.0
`

func TestEveryErrorHasItsExitCode(t *testing.T) {
	for _, c := range []struct {
		err  error
		want int
	}{
		{nil, 0},
		{errors.New("anything"), 1},
		{context.Canceled, 1},
		{&transfer.RefusedError{}, 1},
		{&transfer.GaveUpError{}, 1},
		{&usageError{err: errors.New("x")}, 2},
		{&exchange.DiffersError{}, 3},
		{&exchange.UnwrittenError{Err: &exchange.DiffersError{}}, 3},
		{&exchange.UnwrittenError{Err: fmt.Errorf("%w; and putting it back: %w", &exchange.DiffersError{}, &transfer.NoAnswerError{})}, 3},
		{&exchange.UnwrittenError{Err: fmt.Errorf("%w; and putting it back: %w", &transfer.NoAnswerError{}, &exchange.DiffersError{})}, 3},
		{&exchange.UnwrittenError{Err: &transfer.NoAnswerError{}}, 4},
		{&exchange.PartialError{Err: &transfer.NoAnswerError{}}, 4},
		{&exchange.RunawayError{}, 1},
		{&exchange.OpenError{}, 1},
		{&exchange.MismatchError{}, 1},
		{&library.PortLockedError{}, 1},
		{&transfer.NoAnswerError{}, 4},
		{&measure.Refusal{Reason: measure.Silence}, 5},
	} {
		require.Equalf(t, c.want, exitCode(c.err), "%T", c.err)
		if c.err != nil {
			require.Equalf(t, c.want, exitCode(fmt.Errorf("doing it: %w", c.err)), "%T, wrapped", c.err)
		}
	}
}

// brokenPipe takes so many bytes and then no more.
type brokenPipe struct{ room int }

func (p *brokenPipe) Write(b []byte) (int, error) {
	if len(b) > p.room {
		return 0, errors.New("no space left on device")
	}
	p.room -= len(b)
	return len(b), nil
}

func TestHalfAResultIsAFailure(t *testing.T) {
	for _, args := range [][]string{{"device", "list"}, {"device", "show", "five-line", "--json"}, {"--help"}} {
		e := world(t, args...)
		var talk bytes.Buffer
		e.Stdout, e.Stderr = &brokenPipe{room: 20}, &talk
		require.Equal(t, exitFailed, Run(t.Context(), e), args)
		require.Contains(t, talk.String(), "no space left on device")
		require.Equal(t, 1, strings.Count(talk.String(), "echowright:"), "an error is told once")
	}
}

func TestQuietIsQuietAndWarningsAndErrorsAreStillTold(t *testing.T) {
	e := world(t)
	unit := write(t, "fen.toml", someUnit+"[direct]\necho_to_direct_db = 0.0\n") // nothing about it is doubtful
	require.Empty(t, e.run(t, "plan", unit, "--device", "five-line", "-q").talk)
	howling := write(t, "loud.toml", strings.Replace(someUnit, "gain_db = -6.0", "gain_db = -0.2", 1))
	warned := e.run(t, "push", howling, "--device", "five-line", "--port", "raw:/nowhere", "--slot", "5", "--dry-run", "-q")
	require.Equal(t, exitDone, warned.code, warned.talk)
	require.Regexp(t, `(?m)^warning: .*running away`, warned.talk, "what can hurt is no talk")
	require.NotContains(t, warned.talk, "a dry run")
	failed := e.run(t, "plan", unit, "--device", "six-line", "-q")
	require.Equal(t, exitFailed, failed.code)
	require.Contains(t, failed.talk, "echowright: no device")
	require.Empty(t, failed.out)
}

func TestErrorsFromFilesCannotMoveTheCursor(t *testing.T) {
	bad := write(t, "bad.toml", "format = \"echowright-unit/1\"\n\"\\u001b[2J\" = 1\n")
	got := world(t).run(t, "retime", bad, "--bpm", "100", "--note", "1/4")
	require.Equal(t, exitFailed, got.code)
	require.NotContains(t, got.talk, "\x1b")
}

// every calls do for each command that a person can give.
func every(cmd *cobra.Command, do func(*cobra.Command)) {
	for _, child := range cmd.Commands() {
		if !child.IsAvailableCommand() || child.Name() == "completion" {
			continue
		}
		do(child)
		every(child, do)
	}
}

func TestEveryCommandHasGroupWordsAndExample(t *testing.T) {
	root := newRoot(&call{})
	for _, child := range root.Commands() {
		require.NotEmptyf(t, child.GroupID, "%s stands in a group of the help", child.Name())
	}
	every(root, func(cmd *cobra.Command) {
		require.NotEmpty(t, cmd.Short, cmd.CommandPath())
		require.Contains(t, cmd.Example, "echowright "+strings.Fields(cmd.CommandPath())[1], cmd.CommandPath())
		require.NotNil(t, cmd.RunE, cmd.CommandPath())
	})
}

func TestExamplesOfTheHelpAreCommandsAndFlagsThatThereAre(t *testing.T) {
	root := newRoot(&call{})
	every(root, func(cmd *cobra.Command) {
		for line := range strings.SplitSeq(cmd.Example, "\n") {
			words := strings.Fields(strings.TrimSuffix(strings.TrimSpace(line), " &"))
			target, rest, err := root.Find(words[1:])
			require.NoError(t, err, line)
			require.NoError(t, target.ParseFlags(rest), line)
			require.NoError(t, target.ValidateArgs(target.Flags().Args()), line)
		}
	})
}
