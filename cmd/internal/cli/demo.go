package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/examples"
	"echowright/preset"
)

func newDemoCommand(c *call) *cobra.Command {
	var out string
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "The whole way on a shipped take, against the built-in emulator",
		Long: `Measure a shipped recording, file it, bring it to a song, plan it for the five-line
delay, back up the delay's memories, write the slot over a stream of bytes, read it
back, and listen to what the emulated hardware makes of it. It needs no sound card,
no network and no hardware, and leaves a folder to look at.`,
		Example: "  echowright demo\n  echowright demo --out demo-folder",
		Args:    takes(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runDemo(cmd.Context(), c, saltmarsh, out)
		},
	}
	cmd.Flags().StringVar(&out, "out", "", "an empty `folder` for the results (default: a new temporary one)")
	return cmd
}

// A scenario is a job from end to end.
type scenario struct {
	take     []byte
	takeName string
	unit     string
	kind     preset.Kind
	heads    []preset.Head    // what the machine that was recorded is known to have …
	loop     *preset.Feedback // … and its loop, nil if it has none
	title    string           // of the song
	tempo    preset.BPM
	note     preset.Note
	anchor   int // the head that is to fall on the note
	device   string
	slot     int
}

// saltmarsh is the scenario that is shipped. Heads and loop are what was put into
// the simulated machine that made the take: examples/takes/truth.json.
var saltmarsh = scenario{
	take: examples.Take, takeName: examples.TakeName,
	unit: "saltmarsh-drum-1", kind: preset.Drum,
	heads: []preset.Head{{Head: 2, Delay: 118.4, Level: -6.8}, {Head: 4, Delay: 237.1}, {Head: 6, Delay: 356.2, Level: -2.3}},
	loop:  &preset.Feedback{Heads: []int{6}, Gain: -8.1},
	title: "Eelgrass Ebb", tempo: 132, note: preset.Note{Denominator: 8, Dots: 1}, anchor: 6,
	device: "five-line", slot: 5,
}

// How far a figure may be off before the demonstration has failed.
const (
	mostOffMeasured   preset.Millis   = 0.5
	mostOffMeasuredDB preset.Decibels = 1
	mostOffLoop       preset.Decibels = 1.5
	mostOffHeard      preset.Millis   = 0.15
	mostOffHeardDB    preset.Decibels = 0.5
)

// A demonstration is a scenario under way.
type demonstration struct {
	*call
	scenario
	folder string
	done   demoState
}

// runDemo goes the whole way and ends with an error if any step is off.
func runDemo(ctx context.Context, c *call, s scenario, out string) error {
	folder, err := demoFolder(out)
	if err != nil {
		return err
	}
	var report bytes.Buffer
	inside := *c // a library of its own, and a report that is kept
	inside.home = filepath.Join(folder, "library")
	if !c.json {
		inside.out.Writer = io.MultiWriter(c.out.Writer, plainly{&report})
	}
	d := &demonstration{call: &inside, scenario: s, folder: folder}
	err = errors.Join(d.steps(ctx), d.powerOff())
	if c.json {
		return errors.Join(err, ui.JSON(c.out, d.view(err)))
	}
	if err == nil {
		d.report()
	}
	return errors.Join(err, wholeFile(filepath.Join(folder, "report.txt"), report.Bytes()))
}

// demoFolder is where everything goes; one that holds something is left alone.
func demoFolder(out string) (string, error) {
	if out == "" {
		return os.MkdirTemp("", "echowright-demo-")
	}
	if err := os.MkdirAll(out, 0o777); err != nil {
		return "", fmt.Errorf("folder %s: %w; choose another one", out, err)
	}
	there, err := os.ReadDir(out)
	if err != nil {
		return "", fmt.Errorf("folder %s: %w; choose another one", out, err)
	}
	if len(there) > 0 {
		return "", misused(fmt.Errorf("--out %s: the folder is not empty: nothing in it was touched; choose another one, or none for a temporary one", out))
	}
	return out, nil
}

// steps takes one step after the other and says how each went.
func (d *demonstration) steps(ctx context.Context) error {
	if !d.json {
		d.print("An old echo drum, on loan for a day, comes to a delay with five lines.")
		d.print("")
	}
	for i, step := range []struct {
		name string
		do   func(context.Context) (string, error)
	}{
		{"measure", d.measure}, {"file", d.fileIt}, {"retime", d.retime}, {"plan", d.plan},
		{"power on", d.powerOn}, {"back up", d.backUp}, {"push", d.push}, {"read back", d.readBack},
		{"listen", d.listen}, {"draw", d.draw},
	} {
		what, err := step.do(ctx)
		if err != nil {
			return fmt.Errorf("demonstration, step %d, %s: %w", i+1, step.name, err)
		}
		d.done.steps = append(d.done.steps, step.name)
		if !d.json {
			d.print("%2d  %-9s  %s", i+1, step.name, what)
		}
	}
	return nil
}

// plainly drops ANSI colour on the way into a file.
type plainly struct{ io.Writer }

func (p plainly) Write(b []byte) (int, error) {
	if _, err := p.Writer.Write(colours.ReplaceAll(b, nil)); err != nil {
		return 0, err
	}
	return len(b), nil
}
