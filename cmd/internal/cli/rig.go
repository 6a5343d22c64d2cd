package cli

import (
	"context"
	"fmt"
	"strconv"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library"
)

type rigOptions struct {
	device, port, notes string
	unit                unitFlags
	replace             bool
}

func newRigCommand(c *call) *cobra.Command {
	group := &cobra.Command{
		Use:     "rig",
		Short:   "Devices on their ports, under names of your own",
		Example: "  echowright rig add stage --device five-line --port raw:/dev/snd/midiC1D0\n  echowright rig list",
	}
	asGroup(c, group)
	group.AddCommand(newRigAddCommand(c), newRigListCommand(c), newRigShowCommand(c), newRigRemoveCommand(c))
	return group
}

func newRigAddCommand(c *call) *cobra.Command {
	var o rigOptions
	cmd := &cobra.Command{
		Use:     "add NAME",
		Short:   "Note which device is on which port",
		Example: "  echowright rig add stage --device five-line --port raw:/dev/snd/midiC1D0 --unit 0",
		Args:    takes("NAME"),
		RunE:    func(cmd *cobra.Command, args []string) error { return runRigAdd(c, cmd, args[0], o) },
	}
	flags := cmd.Flags()
	flags.StringVar(&o.device, "device", "", "`name` of the device profile")
	flags.StringVar(&o.port, "port", "", "`port` that it is on; `echowright ports` lists them")
	o.unit.add(cmd, "")
	flags.StringVar(&o.notes, "notes", "", "a `remark`")
	flags.BoolVar(&o.replace, "replace", false, "move what has the name to the trash")
	_ = cmd.RegisterFlagCompletionFunc("device", c.completeDeviceFlag)
	_ = cmd.RegisterFlagCompletionFunc("port", completePort)
	return cmd
}

func newRigListCommand(c *call) *cobra.Command {
	return &cobra.Command{
		Use: "list", Short: "List the rigs", Example: "  echowright rig list",
		Args: takes(),
		RunE: func(*cobra.Command, []string) error { return runRigList(c) },
	}
}

func newRigShowCommand(c *call) *cobra.Command {
	return &cobra.Command{
		Use: "show NAME", Short: "Show a rig", Example: "  echowright rig show stage",
		Args: takes("NAME"), ValidArgsFunction: c.completeRig,
		RunE: func(_ *cobra.Command, args []string) error { return runRigShow(c, args[0]) },
	}
}

func newRigRemoveCommand(c *call) *cobra.Command {
	return &cobra.Command{
		Use: "remove NAME", Short: "Move a rig to the library's trash", Example: "  echowright rig remove stage",
		Args: takes("NAME"), ValidArgsFunction: c.completeRig,
		RunE: func(cmd *cobra.Command, args []string) error { return runRigRemove(cmd.Context(), c, args[0]) },
	}
}

func runRigAdd(c *call, cmd *cobra.Command, name string, o rigOptions) error {
	switch {
	case o.device == "":
		return misuse(cmd, "rig add: --device is missing: the name of a device profile")
	case isFile(o.device):
		return misuse(cmd, "rig add: --device %s is a file: `echowright library add %[1]s` first, then give its name", o.device)
	case o.port == "":
		return misuse(cmd, "rig add: --port is missing: where the device is; `echowright ports` lists what is there")
	}
	d, err := c.device(o.device)
	if err != nil {
		return err
	}
	a, err := o.unit.find(cmd, d, library.Rig{})
	if err != nil {
		return err
	}
	if o.port, err = c.portName(o.port); err != nil {
		return err
	}
	rig := library.Rig{Name: name, Device: o.device, Port: o.port, Unit: &a.unit, Channel: a.channel, Notes: o.notes}
	if d.Manners.ByChannel {
		rig.Unit, rig.Channel = nil, a.unit
	}
	text, err := library.FormatRig(rig)
	if err != nil {
		return misused(err)
	}
	shelf, err := c.library()
	if err != nil {
		return err
	}
	if _, err := shelf.Rigs.Add(cmd.Context(), name, text, o.replace); err != nil {
		return withReplace(err)
	}
	return c.showRig(rig)
}

func runRigList(c *call) error {
	shelf, err := c.library()
	if err != nil {
		return err
	}
	entries, err := shelf.Rigs.List()
	if err != nil {
		return err
	}
	all := []library.Rig{}
	t := ui.Table{Titles: []string{"rig", "device", "port", ">unit", ">channel", "notes"}}
	for _, e := range entries {
		if e.Err != nil {
			c.alarm(fmt.Sprintf("rig %s cannot be read: %v", e.Name, e.Err))
			continue
		}
		r := e.Value
		all = append(all, r)
		t.Add(r.Name, r.Device, r.Port, unitNumber(r), channelNumber(r), r.Notes)
	}
	if c.json {
		return ui.JSON(c.out, map[string]any{"rig": all})
	}
	t.Print(c.out)
	return nil
}

func unitNumber(r library.Rig) string {
	if r.Unit == nil {
		return ""
	}
	return strconv.Itoa(*r.Unit)
}

func channelNumber(r library.Rig) string {
	if r.Channel == 0 {
		return ""
	}
	return strconv.Itoa(r.Channel)
}

func runRigShow(c *call, name string) error {
	shelf, err := c.library()
	if err != nil {
		return err
	}
	e, err := shelf.Rigs.Get(name)
	if err != nil {
		return brokenInside(err)
	}
	return c.showRig(e.Value)
}

func (c *call) showRig(r library.Rig) error {
	if c.json {
		return ui.JSON(c.out, r)
	}
	c.print("%s: %s on %s%s", r.Name, r.Device, r.Port, addressWords(r))
	if r.Notes != "" {
		fmt.Fprintln(c.out, ui.Lines(r.Notes))
	}
	return nil
}

func runRigRemove(ctx context.Context, c *call, name string) error {
	shelf, err := c.library()
	if err != nil {
		return err
	}
	trash, err := shelf.Rigs.Remove(ctx, name)
	if err != nil {
		return err
	}
	if c.json {
		return ui.JSON(c.out, map[string]string{"removed": name, "trash": trash})
	}
	c.print("%s lies in the trash now: %s", name, relative(trash))
	return nil
}
