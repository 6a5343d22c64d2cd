package cli

import (
	"context"
	"errors"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"echowright/cmd/internal/ui"
	"echowright/library/exchange"
	"echowright/profiles"
)

type backupOptions struct {
	target targetFlags
	resume string
}

// newest stands for the backup that was broken off last; no snapshot's name begins
// with a letter.
const newest = "newest"

func newBackupCommand(c *call) *cobra.Command {
	var o backupOptions
	cmd := &cobra.Command{
		Use:   "backup",
		Short: "Keep a device's memories as a snapshot in the library",
		Long: `Read slots of a device, all of them unless --slots says which, and keep the device's
own bytes as one snapshot in the library. Each slot is proved by the device's own
checksum, or read again where it has none. Where a backup is broken off, what was
read is kept as a snapshot that is marked partial, and --resume goes on with it.`,
		Example: "  echowright backup --rig stage\n  echowright backup --rig stage --slots 0-7,12\n  echowright backup --rig stage --resume",
		Args:    takes(),
		RunE:    func(cmd *cobra.Command, _ []string) error { return runBackup(c, cmd, o) },
	}
	o.target.add(c, cmd)
	cmd.Flags().String("slots", "", "the `slots` to keep, such as 0-63 or 0-7,12 (default: all)")
	cmd.Flags().StringVar(&o.resume, "resume", "", "go on with the partial `snapshot` of a backup that was broken off: --resume=NAME, or --resume alone for the newest of this device")
	cmd.Flags().Lookup("resume").NoOptDefVal = newest
	return cmd
}

func runBackup(c *call, cmd *cobra.Command, o backupOptions) error {
	t, err := o.target.find(c, cmd)
	if err != nil {
		return err
	}
	slots, err := deviceSlots(t.device, cmd.Flags().Lookup("slots"))
	if err != nil {
		return err
	}
	if o.resume != "" && slots != nil {
		return misuse(cmd, "backup: --resume goes on with the slots that were asked for then: leave --slots out")
	}
	return t.talkAlone(cmd.Context(), c, "backup", func(s *exchange.Session) error {
		return c.backup(cmd.Context(), s, slots, o.resume)
	})
}

// backup reads the slots, nil for all. There is a result as soon as something was
// kept, also where it was broken off.
func (c *call) backup(ctx context.Context, s *exchange.Session, slots []int, resume string) (err error) {
	if slots == nil {
		slots = s.AllSlots()
	}
	if resume == newest {
		if resume, err = s.PartialBackup(); err != nil {
			return err
		}
	}
	done, err := s.Backup(ctx, slots, exchange.BackupOptions{Resume: resume})
	var partial *exchange.PartialError
	if err != nil && !errors.As(err, &partial) {
		return err
	}
	if c.json {
		return errors.Join(err, ui.JSON(c.out, done))
	}
	c.print("%s", done.Snapshot)
	if err == nil {
		c.say("%s kept, %s in %s s; `echowright snapshot show %s` shows them", ui.Count(done.Slots, "slot", "slots"),
			ui.Count(done.Bytes, "byte", "bytes"), ui.Fixed(float64(done.Seconds), 1), done.Snapshot)
	}
	return err
}

// deviceSlots reads a list of slots that the device must have; nil where the flag
// was not given. An empty list is none at all, never all slots: a script's variable
// may be empty by mistake.
func deviceSlots(d *profiles.Device, flag *pflag.Flag) ([]int, error) {
	if !flag.Changed {
		return nil, nil
	}
	slots, err := parseSlots(flag.Value.String())
	if err != nil {
		return nil, misused(err)
	}
	for _, n := range slots {
		if err := d.CheckSlot(n); err != nil {
			return nil, misused(err)
		}
	}
	return slots, nil
}
