package cli

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/library/exchange"
)

type songsPushOptions struct {
	target       targetFlags
	dryRun       bool
	yes          bool
	allowRunaway bool
}

func newSongsPushCommand(c *call) *cobra.Command {
	var o songsPushOptions
	cmd := &cobra.Command{
		Use:   "push SHEET",
		Short: "Write the whole set into the slots of a device, and verify each",
		Long: `Work out the setting of every song, keep what all the slots concerned hold as one
snapshot, then write each slot that holds something else, read it back and compare.
It asks before it writes: y or yes on the next line of its input agrees, anything
else does not, nor does the end of the input; scripts give --yes. It ends at the
first slot that cannot be written, which then holds what it held before; those
written stay. The same command goes on where it ended: what is there already is not
sent again. If it says that what a slot holds is not known, echowright resume comes
first.

Caution: what a slot plays can be loud. Turn your monitors down before you load it.`,
		Example: "  echowright songs push saltmarsh-evening.toml --rig stage\n" +
			"  echowright songs push saltmarsh-evening.toml --device five-line --dry-run",
		Args:              takes("SHEET"),
		ValidArgsFunction: c.completeSheet,
		RunE:              func(cmd *cobra.Command, args []string) error { return runSongsPush(c, cmd, args[0], o) },
	}
	o.target.add(c, cmd)
	flags := cmd.Flags()
	flags.BoolVar(&o.dryRun, "dry-run", false, "show the plan, and send nothing")
	flags.BoolVarP(&o.yes, "yes", "y", false, "don't ask")
	flags.BoolVar(&o.allowRunaway, "allow-runaway", false, "also write settings whose loop grows with every turn: turn everything down first")
	return cmd
}

func runSongsPush(c *call, cmd *cobra.Command, name string, o songsPushOptions) error {
	t, err := o.target.find(c, cmd)
	if err != nil {
		return err
	}
	if t.writeOnly() && !o.dryRun {
		return misuse(cmd, "push: port %s: a file answers nothing: name the port that the device is on; `echowright songs export --syx` writes the slots into a file", t.port)
	}
	set, err := c.planSet(cmd.Context(), name, t.address)
	if err != nil {
		return err
	}
	if err := set.checkRunaway(c, o.allowRunaway); err != nil {
		return err
	}
	if o.dryRun {
		c.say("a dry run: nothing is sent to %s", t.place())
		return c.showSet(set)
	}
	set.mindAll(c.warn)
	return t.talkAlone(cmd.Context(), c, "push", func(s *exchange.Session) error {
		return c.pushSet(cmd.Context(), s, set, o)
	})
}

// checkRunaway refuses the set for any song of it, before anything is sent.
func (p *plannedSet) checkRunaway(c *call, allow bool) error {
	var failed failures
	for _, song := range p.songs {
		// Only what is refused: a push warns of what is near to it.
		err := (&exchange.Session{Device: p.device}).CheckRunaway(song.Slot, song.Setting, allow)
		failed = failed.and(ofSong(song.Title, err))
	}
	return failed.err()
}

// mindAll tells of every song what is to be minded about it, and what the device
// makes otherwise, for a command that does not show the plan.
func (p *plannedSet) mindAll(tell func(string)) {
	for _, song := range p.songs {
		for _, r := range song.remarks {
			tell(song.Title + ": " + r)
		}
		if words := song.notHad(); words != "" {
			tell(song.Title + ": cannot be had: " + words + "; `echowright songs plan` tells more")
		}
		if n := len(song.Extra); n > 0 {
			tell(song.Title + ": " + ui.Count(n, "echo comes", "echoes come") + " unasked")
		}
	}
}

// pushSet keeps what is there, asks, and writes one song after another.
func (c *call) pushSet(ctx context.Context, s *exchange.Session, set *plannedSet, o songsPushOptions) error {
	done := newSetPushed(set)
	if err := done.backUp(ctx, s, set); err != nil {
		return err
	}
	if err := c.agreeToSet(ctx, s, set, o.yes); err != nil {
		return fmt.Errorf("nothing was written: %w", err)
	}
	err := done.pushAll(ctx, s, set, o.allowRunaway)
	if c.json {
		return errors.Join(err, ui.JSON(c.out, done))
	}
	c.showSetPushed(done)
	return err
}

// agreeToSet tells what will be overwritten, and asks.
func (c *call) agreeToSet(ctx context.Context, s *exchange.Session, set *plannedSet, yes bool) error {
	left := 0
	for _, song := range set.songs {
		slot, read := set.held[song.Slot]
		switch {
		case !read:
			c.about(!yes, fmt.Sprintf("slot %d, for %q: what it holds cannot be read", song.Slot, song.Title))
		case song.isIn(slot, set.device):
			continue
		default:
			c.about(!yes, fmt.Sprintf("slot %d, for %q, holds: %s", song.Slot, song.Title, song.holdsWords(slot, set.device)))
		}
		left++
	}
	if left == 0 || yes {
		return nil
	}
	return c.agree(ctx, fmt.Sprintf("Write %s of %s?", ui.Count(left, "slot", "slots"), s.Device.Name))
}

// backUp keeps what all slots of the set hold, and tells the set.
func (d *setPushed) backUp(ctx context.Context, s *exchange.Session, set *plannedSet) error {
	if !s.Device.Readable() {
		return nil
	}
	var slots []int
	for _, song := range set.songs {
		slots = append(slots, song.Slot)
	}
	kept, err := s.Backup(ctx, slots, exchange.BackupOptions{})
	d.Messages, d.Seconds = kept.Messages, kept.Seconds
	if err != nil {
		return fmt.Errorf("backup before writing: %w; nothing was written", err)
	}
	d.Snapshot = kept.Snapshot
	snapshot, err := s.Shelf.Snapshot(kept.Snapshot)
	if err != nil {
		return err
	}
	set.held, err = heldBy(s, snapshot)
	for i := range d.Songs {
		d.Songs[i].Before = set.held[d.Songs[i].Slot].Setting.Name
	}
	return err
}

// heldBy is what the slots of a snapshot mean.
func heldBy(s *exchange.Session, snapshot library.Snapshot) (map[int]exchange.Slot, error) {
	held := map[int]exchange.Slot{}
	for _, kept := range snapshot.Slots {
		number, memory, err := s.Device.SlotMemory(kept.Messages)
		if err != nil {
			return nil, fmt.Errorf("snapshot %q: slot %d: %w", snapshot.Name, kept.Slot, err)
		}
		slot := exchange.Slot{Number: number, Memory: memory, Message: kept.Messages}
		slot.Setting, slot.Fault = s.Device.SlotSetting(memory)
		held[kept.Slot] = slot
	}
	return held, nil
}

// pushAll writes what is not there yet, up to the first that cannot be written.
func (d *setPushed) pushAll(ctx context.Context, s *exchange.Session, set *plannedSet, allowRunaway bool) error {
	for i, song := range set.songs {
		one := &d.Songs[i]
		if slot, read := set.held[song.Slot]; read && song.isIn(slot, set.device) {
			one.Ended, one.Verified, one.Holds = endedSame, exchange.VerifiedYes, exchange.HoldsAsked
			continue
		}
		var err error
		one.Pushed, err = s.Push(ctx, song.Slot, song.Setting, exchange.PushOptions{
			AllowRunaway: allowRunaway, Note: fmt.Sprintf("%q of %s into slot %d", song.Title, set.sheet.Name, song.Slot), Kept: d.Snapshot,
		})
		one.Ended = endedAs(one.Holds)
		d.add(one.Spent)
		if err != nil {
			return fmt.Errorf("song %q: %w%s", song.Title, err, d.leftWords())
		}
		s.Progress(i+1, len(set.songs))
	}
	return nil
}
