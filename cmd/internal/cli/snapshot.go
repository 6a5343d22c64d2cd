package cli

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/profiles"
)

func newSnapshotCommand(c *call) *cobra.Command {
	group := &cobra.Command{
		Use:     "snapshot",
		Short:   "Memories of devices that were kept",
		Example: "  echowright snapshot list\n  echowright snapshot show 2026-03-14-193000-five-line --slot 5",
	}
	asGroup(c, group)
	group.AddCommand(newSnapshotListCommand(c), newSnapshotShowCommand(c), newSnapshotDiffCommand(c), newSnapshotCheckCommand(c))
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
	return &cobra.Command{
		Use: "diff SNAPSHOT SNAPSHOT", Short: "Show in which parameters two snapshots differ",
		Example: "  echowright snapshot diff 2026-03-14-193000-five-line 2026-03-15-101500-five-line",
		Args:    takes("SNAPSHOT", "SNAPSHOT"), ValidArgsFunction: c.completeSnapshots,
		RunE: func(_ *cobra.Command, args []string) error { return runSnapshotDiff(c, args[0], args[1]) },
	}
}

func newSnapshotCheckCommand(c *call) *cobra.Command {
	return &cobra.Command{
		Use: "check [SNAPSHOT…]", Short: "Prove that snapshots are as they were taken",
		Example:           "  echowright snapshot check",
		ValidArgsFunction: c.completeSnapshots,
		RunE:              func(_ *cobra.Command, args []string) error { return runSnapshotCheck(c, args) },
	}
}

// shownSnapshot is a snapshot as scripts get it.
type shownSnapshot struct {
	Name     string     `json:"name"`
	Device   string     `json:"device,omitempty"`
	Taken    string     `json:"taken,omitempty"`
	Port     string     `json:"port,omitempty"`
	Note     string     `json:"note,omitempty"`
	Complete bool       `json:"complete"`
	Slots    []int      `json:"slots"`
	Content  []keptSlot `json:"slot,omitempty"`
	Error    string     `json:"error,omitempty"`
}

func viewSnapshot(s library.Snapshot) shownSnapshot {
	v := shownSnapshot{
		Name: s.Name, Device: s.Device, Taken: s.Taken.Format(timeFormat), Port: s.Port, Note: s.Note,
		Complete: s.Complete, Slots: []int{},
	}
	for _, slot := range s.Slots {
		v.Slots = append(v.Slots, slot.Slot)
	}
	return v
}

const timeFormat = "2006-01-02 15:04:05"

func runSnapshotList(c *call) error {
	shelf, err := c.library()
	if err != nil {
		return err
	}
	entries, err := shelf.Snapshots()
	if err != nil {
		return err
	}
	all := []shownSnapshot{}
	t := ui.Table{Titles: []string{"snapshot", "device", "taken", ">slots", "note"}}
	for _, e := range entries {
		if e.Err != nil {
			all = append(all, shownSnapshot{Name: e.Name, Slots: []int{}, Error: e.Err.Error()})
			t.Add(e.Name, "", "", "", "cannot be read: "+e.Err.Error())
			continue
		}
		v := viewSnapshot(e.Snapshot)
		all = append(all, v)
		t.Add(v.Name, v.Device, v.Taken, len(v.Slots), v.Note)
	}
	if c.json {
		return ui.JSON(c.out, map[string]any{"snapshot": all})
	}
	t.Print(c.out)
	return nil
}

func runSnapshotCheck(c *call, names []string) error {
	shelf, err := c.library()
	if err != nil {
		return err
	}
	if len(names) == 0 {
		names = c.snapshotNames()
	}
	type checked struct {
		Name  string `json:"name"`
		Whole bool   `json:"whole"`
		Error string `json:"error,omitempty"`
	}
	all := []checked{}
	var wrong []error
	for _, name := range names {
		v := checked{Name: name, Whole: true}
		if err := shelf.CheckSnapshot(name); err != nil {
			v.Whole, v.Error = false, err.Error()
			wrong = append(wrong, err)
		} else if !c.json {
			c.print("%s: whole, every byte as it was kept", name)
		}
		all = append(all, v)
	}
	if c.json {
		wrong = append(wrong, ui.JSON(c.out, map[string]any{"snapshot": all}))
	}
	return errors.Join(wrong...)
}

// A kept snapshot is read with the profile that it was taken with, whatever has
// become of the profile since.
type kept struct {
	library.Snapshot
	device *profiles.Device
}

func (c *call) kept(name string) (kept, error) {
	shelf, err := c.library()
	if err != nil {
		return kept{}, err
	}
	s, err := shelf.Snapshot(name)
	if err != nil {
		return kept{}, err
	}
	d, err := profiles.Parse("profile.toml", s.Profile)
	if err != nil {
		return kept{}, fmt.Errorf("snapshot %q: the profile kept with it cannot be read: %w; its .syx files are whole all the same", name, err)
	}
	return kept{s, d}, nil
}

// setting is what a slot of the snapshot means.
func (k kept) setting(messages []byte) (profiles.Setting, error) {
	_, memory, err := k.device.SlotMemory(messages)
	if err != nil {
		return profiles.Setting{}, err
	}
	return k.device.SlotSetting(memory)
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
