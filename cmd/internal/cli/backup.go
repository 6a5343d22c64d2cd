package cli

import (
	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library/exchange"
	"echowright/profiles"
)

type backupOptions struct {
	target targetFlags
	slots  string
}

func newBackupCommand(c *call) *cobra.Command {
	var o backupOptions
	cmd := &cobra.Command{
		Use:   "backup",
		Short: "Keep a device's memories as a snapshot in the library",
		Long: `Read slots of a device, all of them unless --slots says which, and keep the device's
own bytes as one snapshot in the library. A snapshot is whole or not there.`,
		Example: "  echowright backup --rig stage\n  echowright backup --rig stage --slots 0-7,12",
		Args:    takes(),
		RunE:    func(cmd *cobra.Command, _ []string) error { return runBackup(c, cmd, o) },
	}
	o.target.add(c, cmd)
	cmd.Flags().StringVar(&o.slots, "slots", "", "the `slots` to keep, such as 0-63 or 0-7,12 (default: all)")
	return cmd
}

func runBackup(c *call, cmd *cobra.Command, o backupOptions) error {
	t, err := o.target.find(c, cmd)
	if err != nil {
		return err
	}
	slots, err := deviceSlots(t.device, o.slots)
	if err != nil {
		return err
	}
	return t.talkAlone(cmd.Context(), c, "backup", func(s *exchange.Session) error {
		if slots == nil {
			slots = s.AllSlots()
		}
		done, err := s.Backup(cmd.Context(), slots, exchange.BackupOptions{})
		if err != nil {
			return err
		}
		if c.json {
			return ui.JSON(c.out, done)
		}
		c.print("%s", done.Snapshot)
		c.say("%s kept, %s in %s s; `echowright snapshot show %s` shows them", ui.Count(done.Slots, "slot", "slots"),
			ui.Count(done.Bytes, "byte", "bytes"), ui.Fixed(done.Seconds, 1), done.Snapshot)
		return nil
	})
}

// deviceSlots reads a list of slots that the device must have; nil for "".
func deviceSlots(d *profiles.Device, text string) ([]int, error) {
	if text == "" {
		return nil, nil
	}
	slots, err := parseSlots(text)
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
