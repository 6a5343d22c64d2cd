package cli

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library/exchange"
	"echowright/profiles"
)

type pushOptions struct {
	wanted wantedFlags
	target targetFlags
	slot   int
	dryRun bool
	load   bool
}

func newPushCommand(c *call) *cobra.Command {
	var o pushOptions
	cmd := &cobra.Command{
		Use:   "push UNIT",
		Short: "Write a unit's echoes into a slot, and verify it",
		Long: `Work out the setting for a unit, keep what the slot holds as a snapshot, write the
slot, read it back and compare. Exit 3 if the device then holds something else.

Caution: what a slot plays can be loud. Turn your monitors down before you load it.`,
		Example: "  echowright push saltmarsh-drum-1 --rig stage --slot 5\n" +
			"  echowright push saltmarsh-drum-1 --device five-line --port emulator:five-line --slot 5 --dry-run",
		Args:              takes("UNIT"),
		ValidArgsFunction: c.completeUnit,
		RunE:              func(cmd *cobra.Command, args []string) error { return runPush(c, cmd, args[0], o) },
	}
	o.target.add(c, cmd)
	o.wanted.add(cmd)
	flags := cmd.Flags()
	flags.IntVar(&o.slot, "slot", 0, "`number` of the slot to write")
	flags.BoolVar(&o.dryRun, "dry-run", false, "show what would be sent, and send nothing")
	flags.BoolVar(&o.load, "load", false, "then make the slot sound")
	return cmd
}

func runPush(c *call, cmd *cobra.Command, name string, o pushOptions) error {
	if !cmd.Flags().Changed("slot") {
		return misuse(cmd, "push: --slot is missing: the number of the slot to write")
	}
	t, err := o.target.find(c, cmd)
	if err != nil {
		return err
	}
	p, err := o.wanted.plan(c, cmd, name, t.device)
	if err != nil {
		return err
	}
	if p.steps, err = p.stepsTo(t.unit, o.slot); err != nil {
		return err
	}
	if o.load && (o.dryRun || t.writeOnly()) {
		step, err := t.device.LoadStep(t.unit, o.slot)
		if err != nil {
			return misused(err)
		}
		p.steps = append(p.steps, step)
	}
	for _, w := range p.Warnings {
		c.warn(w)
	}
	switch {
	case o.dryRun:
		return c.pushDry(t, p)
	case t.writeOnly():
		return c.pushToFile(cmd.Context(), t, p, o.slot)
	}
	return t.talkAlone(cmd.Context(), c, "push", func(s *exchange.Session) error {
		return c.push(cmd.Context(), s, p, o)
	})
}

func (c *call) pushDry(t target, p planned) error {
	c.say("a dry run: nothing is sent to %s", t.port)
	if c.json {
		return ui.JSON(c.out, viewPlan(p))
	}
	c.showPlan(p)
	c.print("")
	c.showSteps(p.steps)
	return nil
}

func (c *call) push(ctx context.Context, s *exchange.Session, p planned, o pushOptions) error {
	done, err := s.Push(ctx, o.slot, p.Setting, exchange.PushOptions{Note: p.unit.Name + fmt.Sprintf(" into slot %d", o.slot)})
	var unwritten *exchange.UnwrittenError
	if err != nil && !errors.As(err, &unwritten) {
		return err
	}
	if err == nil && o.load {
		_, err = s.Load(ctx, o.slot)
	}
	if c.json {
		return errors.Join(err, ui.JSON(c.out, done))
	}
	if err == nil {
		c.print("slot %d holds %s now: read back and verified", done.Slot, p.unit.Name)
	}
	kept := ""
	if done.Snapshot != "" {
		kept = "; what the slot held before is kept: " + done.Snapshot
	}
	c.print("%s, %s, %s s%s", ui.Count(done.Messages, "message", "messages"), ui.Count(done.Bytes, "byte", "bytes"), ui.Fixed(done.Seconds, 2), kept)
	c.showDifferences("wanted", "holds", done.Differences)
	return err
}

// pushToFile writes what would be sent, as a .syx file for another program.
func (c *call) pushToFile(ctx context.Context, t target, p planned, slot int) error {
	out, err := c.Ports.Open(ctx, t.port)
	if err != nil {
		return err
	}
	done := exchange.Pushed{Slot: slot, Verified: exchange.VerifiedUnreadable, Holds: exchange.HoldsUnknown, Differences: []profiles.Difference{}}
	for _, s := range p.steps {
		if err := out.Send(ctx, s.Send); err != nil {
			return errors.Join(err, out.Close())
		}
		done.Messages++
		done.Bytes += len(s.Send)
	}
	if err := out.Close(); err != nil {
		return err
	}
	if c.json {
		return ui.JSON(c.out, done)
	}
	c.print("written: %s, %s; whether a device takes it cannot be seen here", t.port, ui.Count(done.Bytes, "byte", "bytes"))
	return nil
}

func (c *call) showDifferences(was, is string, all []profiles.Difference) {
	if len(all) == 0 {
		return
	}
	t := ui.Table{Titles: []string{"parameter", ">" + was, ">" + is, "unit"}}
	for _, d := range all {
		t.Add(d.Parameter, inWords(d.Was), inWords(d.Is), d.Unit)
	}
	t.Print(c.out)
}

func inWords(v any) string {
	if n, ok := v.(float64); ok {
		return short(n)
	}
	return fmt.Sprint(v)
}
