// Package cli turns the words of a command line into what the other rooms do, and
// what they give into a result on stdout, talk on stderr and an exit code. Each
// command is a thin file: newXxxCommand describes it, runXxx does it.
//
// The newcomer starts with run.go and root.go, then a command such as retime.go.
package cli

import (
	"context"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/midi/port/ports"
)

// An Env is all that the program sees of the world around it.
type Env struct {
	Args   []string // without the program's own name
	Stdin  io.Reader
	Stdout io.Writer
	Stderr io.Writer
	Getenv func(string) string
	Now    func() time.Time
	Ports  ports.Openers // what --port may name
}

// Run does what the arguments say and returns the exit code. Errors are printed
// here and nowhere else.
func Run(ctx context.Context, env Env) int {
	out := &faithful{Writer: env.Stdout}
	c := &call{
		Env:  env,
		out:  ui.Open(env.Stdout, env.Getenv),
		talk: ui.Open(env.Stderr, env.Getenv),
	}
	c.out.Writer = out
	root := newRoot(c)
	root.SetArgs(env.Args)
	root.SetIn(env.Stdin)
	root.SetOut(out)
	root.SetErr(env.Stderr)
	err := root.ExecuteContext(ctx)
	if err == nil && out.err != nil {
		err = fmt.Errorf("writing the result: %w: make room, or send it elsewhere", out.err)
	}
	if err != nil {
		fmt.Fprintf(env.Stderr, "echowright: %s\n", ui.Lines(errorWords(ctx, err)))
	}
	return exitCode(err)
}

// A call is one run of the program: its world and its global flags.
type call struct {
	Env
	out  ui.Screen // the result
	talk ui.Screen // everything else that is said

	home  string
	json  bool
	quiet bool
}

// settle takes over the global flags once they are read, and tells what is under
// way before the command begins.
func (c *call) settle(cmd *cobra.Command, _ []string) {
	if c.quiet {
		c.talk = ui.Plain(io.Discard)
	}
	c.sayUnderWay(cmd)
}

// say tells the person in front of the screen something that is not the result.
func (c *call) say(format string, args ...any) {
	fmt.Fprintln(c.talk, ui.Line(fmt.Sprintf(format, args...)))
}

// warn is say for what is doubtful about a result.
func (c *call) warn(text string) { mark(c.talk, "warning:", text) }

// alarm is warn for what may cost somebody a preset. It is no talk: --quiet does
// not hide it.
func (c *call) alarm(text string) { mark(c.loud(), "warning:", text) }

// caution is alarm for what may hurt somebody's ears.
func (c *call) caution(text string) { mark(c.loud(), "caution:", text) }

func mark(screen ui.Screen, word, text string) {
	fmt.Fprintln(screen, screen.Tinted(word, ui.Doubt), ui.Line(text))
}

// loud is the screen for what --quiet does not hide.
func (c *call) loud() ui.Screen {
	if c.quiet {
		return ui.Open(c.Stderr, c.Getenv)
	}
	return c.talk
}

// print writes a line of the result.
func (c *call) print(format string, args ...any) {
	fmt.Fprintln(c.out, ui.Line(fmt.Sprintf(format, args...)))
}

// faithful remembers that a result could not be written, whoever wrote it: a
// script must not take half a result on a full disk for a whole one.
type faithful struct {
	io.Writer
	err error
}

func (f *faithful) Write(b []byte) (int, error) {
	if f.err != nil {
		return 0, f.err
	}
	n, err := f.Writer.Write(b)
	f.err = err
	return n, err
}
