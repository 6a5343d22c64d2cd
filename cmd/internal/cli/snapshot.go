package cli

import "github.com/spf13/cobra"

func newSnapshotCommand(c *call) *cobra.Command {
	group := &cobra.Command{
		Use:     "snapshot",
		Short:   "Memories of devices that were kept",
		Example: "  echowright snapshot list\n  echowright snapshot show 2026-03-14-193000-five-line --slot 5",
	}
	asGroup(c, group)
	group.AddCommand(
		newSnapshotListCommand(c), newSnapshotShowCommand(c), newSnapshotDiffCommand(c), newSnapshotCheckCommand(c), newSnapshotAddCommand(c),
	)
	return group
}

func newSnapshotListCommand(c *call) *cobra.Command {
	return &cobra.Command{
		Use: "list", Short: "List the snapshots, oldest first", Example: "  echowright snapshot list",
		Args: takes(),
		RunE: func(*cobra.Command, []string) error { return runSnapshotList(c) },
	}
}

func newSnapshotShowCommand(c *call) *cobra.Command {
	var slot int
	cmd := &cobra.Command{
		Use: "show SNAPSHOT", Short: "Show what a snapshot holds, in musical terms",
		Long: `Show what a snapshot holds, by the device profile that is kept with it: what has
become of the profile since makes no difference.`,
		Example: "  echowright snapshot show 2026-03-14-193000-five-line --slot 5",
		Args:    takes("SNAPSHOT"), ValidArgsFunction: c.completeSnapshot,
		RunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("slot") {
				return runSnapshotSlot(c, args[0], slot)
			}
			return runSnapshotShow(c, args[0])
		},
	}
	cmd.Flags().IntVar(&slot, "slot", 0, "`number` of one slot, to be shown in full")
	return cmd
}

func newSnapshotDiffCommand(c *call) *cobra.Command {
	var target targetFlags
	cmd := &cobra.Command{
		Use: "diff SNAPSHOT [SNAPSHOT]", Short: "Show in which parameters two snapshots differ, or a snapshot and a device",
		Long: `Show in which parameters two snapshots differ, in the slots that both hold. With one
snapshot and --rig, or --device and --port, those slots are read from the device.`,
		Example: "  echowright snapshot diff 2026-03-14-193000-five-line 2026-03-15-101500-five-line\n" +
			"  echowright snapshot diff 2026-03-14-193000-five-line --rig stage",
		Args: takesSides, ValidArgsFunction: c.completeSnapshots,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 2 {
				return runSnapshotDiff(c, args[0], args[1])
			}
			return runDeviceDiff(c, cmd, args[0], target)
		},
	}
	target.add(c, cmd)
	return cmd
}

// takesSides wants two things to compare: two snapshots, or one and a device.
func takesSides(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return misuse(cmd, "diff: name two snapshots, or one and the device with --rig")
	}
	if len(args) > 2 {
		return takes("SNAPSHOT", "SNAPSHOT")(cmd, args)
	}
	flags := cmd.Flags()
	ofDevice := flags.Changed("rig") || flags.Changed("device") || flags.Changed("port")
	switch {
	case len(args) == 2 && (ofDevice || flags.Changed("unit") || flags.Changed("channel") || flags.Changed("trace")):
		return misuse(cmd, "diff: two snapshots and a device: leave one of the three out")
	case len(args) == 1 && !ofDevice:
		return misuse(cmd, "diff: compared with what? Name a second snapshot, or the device with --rig, or --device and --port")
	}
	return nil
}

func newSnapshotCheckCommand(c *call) *cobra.Command {
	return &cobra.Command{
		Use: "check [SNAPSHOT…]", Short: "Prove that snapshots are as they were taken",
		Example:           "  echowright snapshot check",
		ValidArgsFunction: c.completeSnapshots,
		RunE:              func(_ *cobra.Command, args []string) error { return runSnapshotCheck(c, args) },
	}
}

func newSnapshotAddCommand(c *call) *cobra.Command {
	var o snapshotAddOptions
	cmd := &cobra.Command{
		Use: "add FILE.syx", Short: "Make a snapshot of the slots in a .syx file",
		Long: `Make a snapshot of the slots of a device that a .syx file holds, such as another
program has written. What else is in the file is passed over, and told.`,
		Example: "  echowright snapshot add dump.syx --device five-line --note mended",
		Args:    takes("FILE.syx"),
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return []string{"syx"}, cobra.ShellCompDirectiveFilterFileExt
		},
		RunE: func(cmd *cobra.Command, args []string) error { return runSnapshotAdd(c, cmd, args[0], o) },
	}
	flags := cmd.Flags()
	flags.StringVar(&o.device, "device", "", "`name` or file of the profile of the device whose slots they are")
	flags.StringVar(&o.note, "note", "", "a `remark` (default: where it comes from)")
	_ = cmd.RegisterFlagCompletionFunc("device", c.completeDeviceFlag)
	return cmd
}

func (c *call) completeSnapshot(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	return firstOnly(args, c.snapshotNames()...), cobra.ShellCompDirectiveNoFileComp
}

func (c *call) completeSnapshots(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return c.snapshotNames(), cobra.ShellCompDirectiveNoFileComp
}

func (c *call) snapshotNames() []string {
	shelf, err := c.library()
	if err != nil {
		return nil
	}
	entries, _ := shelf.Snapshots()
	var names []string
	for _, e := range entries {
		names = append(names, e.Name)
	}
	return names
}
