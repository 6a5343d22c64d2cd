package cli

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/library/exchange"
	"echowright/profiles"
)

type restoreOptions struct {
	target       targetFlags
	slot         int
	slots        string
	to           int
	yes          bool
	dryRun       bool
	force        bool
	all          bool
	allowRunaway bool
}

func newRestoreCommand(c *call) *cobra.Command {
	var o restoreOptions
	cmd := &cobra.Command{
		Use:   "restore SNAPSHOT",
		Short: "Put a snapshot back into a device",
		Long: `Put the slots of a snapshot back where they were, all of them unless --slot or
--slots says which. Only slots that hold something else are written, what they
hold is kept as a snapshot first, and each is read back. It asks before it writes:
y or yes on the next line of its input agrees, anything else does not, nor does the
end of the input; scripts give --yes. Where it is broken off, ` + "`echowright resume`" + `
finishes it or puts everything back.

A snapshot of another model, or one that was taken with another version of the
profile, is refused without --force. What was last sent to a device that cannot be
read is a snapshot too: it is sent again.`,
		Example: "  echowright restore 2026-03-14-193000-five-line --rig stage\n" +
			"  echowright restore 2026-03-14-193000-five-line --rig stage --slot 5 --to 6 --yes",
		Args:              takes("SNAPSHOT"),
		ValidArgsFunction: c.completeSnapshot,
		RunE:              func(cmd *cobra.Command, args []string) error { return runRestore(c, cmd, args[0], o) },
	}
	o.target.add(c, cmd)
	flags := cmd.Flags()
	flags.IntVar(&o.slot, "slot", 0, "`number` of the one slot to put back")
	flags.StringVar(&o.slots, "slots", "", "the `slots` to put back, such as 0-7,12 (default: all of the snapshot)")
	flags.IntVar(&o.to, "to", 0, "with --slot: another `number` to put it at")
	flags.BoolVarP(&o.yes, "yes", "y", false, "don't ask")
	flags.BoolVar(&o.dryRun, "dry-run", false, "show what would be sent if no slot held it already, and send nothing; needs no port")
	flags.BoolVar(&o.force, "force", false, "also a snapshot of another model, or taken with another version of the profile")
	flags.BoolVar(&o.all, "all", false, "write slots also if they hold it already")
	flags.BoolVar(&o.allowRunaway, "allow-runaway", false, "also settings whose loop can grow with every turn")
	return cmd
}

func runRestore(c *call, cmd *cobra.Command, name string, o restoreOptions) error {
	t, err := o.target.find(c, cmd)
	if err != nil {
		return err
	}
	shelf, err := c.library()
	if err != nil {
		return err
	}
	snapshot, err := shelf.Snapshot(name)
	if err != nil {
		return err
	}
	places, err := o.places(cmd, snapshot, t.device)
	if err != nil {
		return err
	}
	if !snapshot.Complete {
		c.alarm(fmt.Sprintf("snapshot %s is partial: it holds %d of the %d slots that were asked for", name, len(snapshot.Slots), len(snapshot.Asked)))
	}
	if o.dryRun {
		return c.restoreDry(t, shelf, name, places, o)
	}
	return t.talkAlone(cmd.Context(), c, "restore", func(s *exchange.Session) error {
		return c.restore(cmd.Context(), s, name, places, o)
	})
}

func (o restoreOptions) safety() exchange.RestoreOptions {
	return exchange.RestoreOptions{All: o.all, Force: o.force, AllowRunaway: o.allowRunaway}
}

// places are the slots of the snapshot that are meant, and where each goes. Those
// that are named must be in the snapshot and in the device.
func (o restoreOptions) places(cmd *cobra.Command, s library.Snapshot, d *profiles.Device) ([]exchange.Placed, error) {
	one, some, moved := cmd.Flags().Changed("slot"), cmd.Flags().Changed("slots"), cmd.Flags().Changed("to")
	switch {
	case one && some:
		return nil, misuse(cmd, "restore: --slot and --slots: give one of them")
	case moved && !one:
		return nil, misuse(cmd, "restore: --to needs --slot: which slot of the snapshot goes there?")
	case !one && !some:
		return samePlaces(viewSnapshot(s).Slots), nil
	}
	named := []exchange.Placed{{From: o.slot, To: o.slot}}
	if moved {
		named[0].To = o.to
	}
	if some {
		numbers, err := parseSlots(o.slots)
		if err != nil {
			return nil, misused(err)
		}
		named = samePlaces(numbers)
	}
	for _, p := range named {
		if err := holdsSlot(s, p.From); err != nil {
			return nil, err
		}
		if err := d.CheckSlot(p.To); err != nil {
			return nil, misused(err)
		}
	}
	return named, nil
}

func samePlaces(numbers []int) []exchange.Placed {
	var all []exchange.Placed
	for _, n := range numbers {
		all = append(all, exchange.Placed{From: n, To: n})
	}
	return all
}

// restore shows what would change, asks, and writes it.
func (c *call) restore(ctx context.Context, s *exchange.Session, name string, places []exchange.Placed, o restoreOptions) error {
	compared, err := s.Compare(ctx, name, places, o.safety())
	if err != nil {
		return err
	}
	changes := compared.Changes
	for _, change := range changes {
		c.about(!o.yes, changeWords(change, s.Device.Readable()))
	}
	if len(changes) > 0 && !o.yes {
		if err := c.agree(ctx, fmt.Sprintf("Write %s of %s?", ui.Count(len(changes), "slot", "slots"), s.Device.Name)); err != nil {
			return fmt.Errorf("nothing was written: %w", err)
		}
	}
	done, err := s.Restore(ctx, compared)
	var unwritten *exchange.UnwrittenError
	if err != nil && !errors.As(err, &unwritten) && len(done.Written) == 0 {
		return err
	}
	return errors.Join(err, c.showRestored(name, done, unwritten))
}
