package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/midi"
	"echowright/preset"
	"echowright/profiles"
	"echowright/profiles/arrange"
)

type planOptions struct {
	wanted wantedFlags
	device string
	unit   int
	slot   int
	bytes  bool
}

func newPlanCommand(c *call) *cobra.Command {
	var o planOptions
	cmd := &cobra.Command{
		Use:   "plan UNIT",
		Short: "Show what a device would be told, and what cannot be had",
		Long: `Work out the setting of a device whose echoes come nearest to those of a unit, and
show each echo wanted beside the one got. Nothing is sent.`,
		Example: "  echowright plan saltmarsh-drum-1 --device five-line\n" +
			"  echowright plan saltmarsh-drum-1 --device five-line --heads 2,6 --bpm 132 --note 1/8. --bytes",
		Args:              takes("UNIT"),
		ValidArgsFunction: c.completeUnit,
		RunE:              func(cmd *cobra.Command, args []string) error { return runPlan(c, cmd, args[0], o) },
	}
	o.wanted.add(cmd)
	flags := cmd.Flags()
	flags.StringVar(&o.device, "device", "", "`name` or file of the device profile")
	flags.IntVar(&o.unit, "unit", 0, "unit `number` that is set on the device")
	flags.IntVar(&o.slot, "slot", 0, "`number` of the slot that would be written (default: the first)")
	flags.BoolVar(&o.bytes, "bytes", false, "show the messages too")
	_ = cmd.RegisterFlagCompletionFunc("device", c.completeDeviceFlag)
	return cmd
}

func runPlan(c *call, cmd *cobra.Command, name string, o planOptions) error {
	if o.device == "" {
		return misuse(cmd, "plan: --device is missing: the name or the file of a device profile")
	}
	d, err := c.device(o.device)
	if err != nil {
		return err
	}
	if !cmd.Flags().Changed("slot") {
		o.slot = d.FirstSlot
	}
	if !cmd.Flags().Changed("unit") {
		o.unit = d.Manners.FirstUnit
	}
	p, err := o.wanted.plan(c, cmd, name, d)
	if err != nil {
		return err
	}
	if p.steps, err = p.stepsTo(o.unit, o.slot); err != nil {
		return err
	}
	for _, w := range p.Warnings {
		c.warn(w)
	}
	if c.json {
		return ui.JSON(c.out, viewPlan(p))
	}
	c.showPlan(p)
	if o.bytes {
		c.print("")
		c.showSteps(p.steps)
	}
	return nil
}

// stepsTo is what puts the setting into a slot of the device; one without slots is
// made to sound so, and no more.
func (p planned) stepsTo(unit, slot int) ([]midi.Step, error) {
	if err := p.device.CheckUnit(unit); err != nil {
		return nil, misused(err)
	}
	if !p.device.HasSlots() {
		return p.device.SettingSteps(unit, p.Setting)
	}
	if err := p.device.CheckSlot(slot); err != nil {
		return nil, misused(err)
	}
	return p.device.PushSteps(unit, slot, p.Setting)
}

// planView is a plan as scripts get it.
type planView struct {
	Unit         string          `json:"unit"`
	Device       string          `json:"device"`
	Setting      []profiles.Row  `json:"setting"`
	Echoes       []arrange.Echo  `json:"echo"`
	Extra        []arrange.Extra `json:"extra"`
	PatternError preset.Decibels `json:"pattern_error_db"`
	Messages     []string        `json:"message"`
	Warnings     []string        `json:"warnings"`
}

func viewPlan(p planned) planView {
	return planView{
		Unit: p.unit.Name, Device: p.device.Name, Setting: p.device.Rows(p.Setting),
		Echoes: listOrEmpty(p.Echoes), Extra: listOrEmpty(p.Extra), PatternError: p.Error,
		Messages: hexes(p.steps), Warnings: listOrEmpty(p.Warnings),
	}
}

// listOrEmpty keeps a list without entries from becoming null in JSON.
func listOrEmpty[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

func hexes(steps []midi.Step) []string {
	all := make([]string, len(steps))
	for i, s := range steps {
		all[i] = midi.Hex(s.Send)
	}
	return all
}

func (c *call) showSteps(steps []midi.Step) {
	for _, s := range steps {
		c.print("%s, %s:", s.What, ui.Count(len(s.Send), "byte", "bytes"))
		const perLine = 24
		for i := 0; i < len(s.Send); i += perLine {
			fmt.Fprintln(c.out, "  "+midi.Hex(s.Send[i:min(len(s.Send), i+perLine)]))
		}
	}
}
