package cli

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/library/exchange"
)

type restoreOptions struct {
	target targetFlags
	slot   int
	slots  string
	to     int
	yes    bool
}

func newRestoreCommand(c *call) *cobra.Command {
	var o restoreOptions
	cmd := &cobra.Command{
		Use:   "restore SNAPSHOT",
		Short: "Put a snapshot back into a device",
		Long: `Put the slots of a snapshot back where they were, all of them unless --slot or
--slots says which. Only slots that hold something else are written, what they
hold is kept as a snapshot first, and each is read back. At a terminal it asks
before it writes.`,
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
	places, err := o.places(cmd, snapshot)
	if err != nil {
		return err
	}
	return t.talkAlone(cmd.Context(), c, "restore", func(s *exchange.Session) error {
		return c.restore(cmd, s, name, places, o)
	})
}

// places are the slots of the snapshot that are meant, and where each goes.
func (o restoreOptions) places(cmd *cobra.Command, s library.Snapshot) ([]exchange.Placed, error) {
	one, some, moved := cmd.Flags().Changed("slot"), o.slots != "", cmd.Flags().Changed("to")
	switch {
	case one && some:
		return nil, misuse(cmd, "restore: --slot and --slots: give one of them")
	case moved && !one:
		return nil, misuse(cmd, "restore: --to needs --slot: which slot of the snapshot goes there?")
	case one && moved:
		return []exchange.Placed{{From: o.slot, To: o.to}}, nil
	case one:
		return []exchange.Placed{{From: o.slot, To: o.slot}}, nil
	}
	var numbers []int
	for _, slot := range s.Slots {
		numbers = append(numbers, slot.Slot)
	}
	if some {
		asked, err := parseSlots(o.slots)
		if err != nil {
			return nil, misused(err)
		}
		numbers = asked
	}
	var all []exchange.Placed
	for _, n := range numbers {
		all = append(all, exchange.Placed{From: n, To: n})
	}
	return all, nil
}

func (c *call) restore(cmd *cobra.Command, s *exchange.Session, name string, places []exchange.Placed, o restoreOptions) error {
	compared, err := s.Compare(cmd.Context(), name, places, exchange.RestoreOptions{})
	if err != nil {
		return err
	}
	changes := compared.Changes
	for _, change := range changes {
		c.say("slot %d holds something else: %s", change.To, changed(change))
	}
	if len(changes) > 0 && !o.yes {
		if err := c.agree(cmd.Context(), fmt.Sprintf("Write %s of %s?", ui.Count(len(changes), "slot", "slots"), s.Device.Name)); err != nil {
			return fmt.Errorf("nothing was written: %w", err)
		}
	}
	done, err := s.Restore(cmd.Context(), compared)
	if c.json {
		return errors.Join(err, ui.JSON(c.out, done))
	}
	if len(changes) == 0 {
		c.print("nothing to write: the device holds all of %s already", name)
		return err
	}
	slices.Sort(done.Written)
	c.print("written and verified: %s; %s held it already; what was overwritten is kept: %s",
		slotList(done.Written), ui.Count(len(done.Same), "slot", "slots"), done.Snapshot)
	return err
}

func slotList(numbers []int) string {
	switch len(numbers) {
	case 0:
		return "no slot"
	case 1:
		return "slot " + joined(numbers)
	}
	return "slots " + joined(numbers)
}

// changed is what a restore would change in a slot, in a few words.
func changed(change exchange.Change) string {
	if len(change.Differences) == 0 {
		return "bytes that mean no parameter"
	}
	words := make([]string, 0, 3)
	for i, d := range change.Differences {
		if i == 3 {
			words = append(words, fmt.Sprintf("and %d more", len(change.Differences)-i))
			break
		}
		words = append(words, fmt.Sprintf("%s %s in place of %s", d.Parameter, inWords(d.Was), inWords(d.Is)))
	}
	return strings.Join(words, ", ")
}
