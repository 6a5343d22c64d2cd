package cli

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"echowright/library/exchange"
)

type pushOptions struct {
	wanted       wantedFlags
	target       targetFlags
	slot         int
	dryRun       bool
	load         bool
	all          bool
	allowRunaway bool
}

func newPushCommand(c *call) *cobra.Command {
	var o pushOptions
	cmd := &cobra.Command{
		Use:   "push UNIT",
		Short: "Write a unit's echoes into a slot, and verify it",
		Long: `Work out the setting for a unit, keep what the slot holds as a snapshot, write the
slot, read it back and compare. Where anything goes wrong after the first byte, the
old content is put back and read back too, and you are told which of the two the
slot holds. Exit 3 if it held something else than was written.

A device that cannot be read gets the setting all the same; what was sent is kept
as what is last known of the slot, and a checklist says what there is to hear.

Caution: what a slot plays can be loud. Turn your monitors down before you load it.
A setting whose loop can grow with every turn is refused without --allow-runaway.`,
		Example: "  echowright push saltmarsh-drum-1 --rig stage --slot 5\n" +
			"  echowright push saltmarsh-drum-1 --device five-line --slot 5 --dry-run",
		Args:              takes("UNIT"),
		ValidArgsFunction: c.completeUnit,
		RunE:              func(cmd *cobra.Command, args []string) error { return runPush(c, cmd, args[0], o) },
	}
	o.target.add(c, cmd)
	o.wanted.add(cmd)
	flags := cmd.Flags()
	flags.IntVar(&o.slot, "slot", 0, "`number` of the slot to write")
	flags.BoolVar(&o.dryRun, "dry-run", false, "show what would be sent, and send nothing; needs no port")
	flags.BoolVar(&o.load, "load", false, "then make the slot sound; what sounds until then is turned down first, where the device can")
	flags.BoolVar(&o.all, "all", false, "write the slot also if it holds the setting already")
	flags.BoolVar(&o.allowRunaway, "allow-runaway", false, "send a setting whose loop can grow with every turn all the same")
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
	for _, w := range p.Warnings {
		c.warn(w)
	}
	if o.dryRun || t.writeOnly() {
		return c.pushUnsent(cmd.Context(), t, p, o)
	}
	if _, err := p.stepsTo(t.unit, o.slot); err != nil { // before the port is opened
		return err
	}
	return t.talkAlone(cmd.Context(), c, "push", func(s *exchange.Session) error {
		return c.push(cmd.Context(), s, p, o)
	})
}

// push writes the slot and makes it sound if that is wanted. There is a result as
// soon as something was written, also where it went wrong.
func (c *call) push(ctx context.Context, s *exchange.Session, p planned, o pushOptions) error {
	note := fmt.Sprintf("%s into slot %d", p.unit.Name, o.slot)
	done, err := s.Push(ctx, o.slot, p.Setting, exchange.PushOptions{All: o.all, AllowRunaway: o.allowRunaway, Note: note})
	var unwritten *exchange.UnwrittenError
	if err != nil && !errors.As(err, &unwritten) {
		return err
	}
	v := pushedView{Pushed: done}
	if err == nil && o.load {
		err = c.loadPushed(ctx, s, &v)
	}
	if v.Verified == exchange.VerifiedUnreadable {
		v.Checklist = checklist(s.Device, s.Unit, o.slot, p.Setting)
	}
	return errors.Join(err, c.showPushed(v, p.unit.Name, unwritten))
}

// loadPushed makes the slot sound, after a word to whoever wears headphones.
func (c *call) loadPushed(ctx context.Context, s *exchange.Session, v *pushedView) error {
	c.caution(fmt.Sprintf("slot %d sounds next, and it can be loud: turn your monitors down", v.Slot))
	spent, err := s.Load(ctx, v.Slot)
	if err != nil {
		return fmt.Errorf("slot %d is written, but it was not made to sound: %w", v.Slot, err)
	}
	v.Loaded = true
	v.Messages, v.Bytes, v.Seconds = v.Messages+spent.Messages, v.Bytes+spent.Bytes, v.Seconds+spent.Seconds
	return nil
}
