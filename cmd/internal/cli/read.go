package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library/exchange"
	"echowright/preset"
	"echowright/profiles"
)

type readOptions struct {
	target targetFlags
	slot   int
}

func newReadCommand(c *call) *cobra.Command {
	var o readOptions
	cmd := &cobra.Command{
		Use:     "read",
		Short:   "Show what a slot of a device holds, in musical terms",
		Example: "  echowright read --rig stage --slot 5\n  echowright read --device five-line --port raw:/dev/snd/midiC1D0 --slot 5 --json",
		Args:    takes(),
		RunE:    func(cmd *cobra.Command, _ []string) error { return runRead(c, cmd, o) },
	}
	o.target.add(c, cmd)
	cmd.Flags().IntVar(&o.slot, "slot", 0, "`number` of the slot to read")
	return cmd
}

func runRead(c *call, cmd *cobra.Command, o readOptions) error {
	if !cmd.Flags().Changed("slot") {
		return misuse(cmd, "read: --slot is missing: the number of the slot to read")
	}
	t, err := o.target.find(c, cmd)
	if err != nil {
		return err
	}
	if err := t.device.CheckSlot(o.slot); err != nil {
		return misused(err)
	}
	if !t.device.Readable() {
		return c.showLastSent(t, o.slot)
	}
	return t.talk(cmd.Context(), c, "read", func(s *exchange.Session) error {
		slot, _, err := s.ReadSlot(cmd.Context(), o.slot)
		if err != nil {
			return err
		}
		if slot.Fault != nil {
			return fmt.Errorf("slot %d holds no setting: %w; `echowright restore` or a push puts a whole one there", o.slot, slot.Fault)
		}
		return c.showSlot(t.device, viewSlot(t.device, slot.Number, slot.Setting), slot.Setting)
	})
}

// showLastSent shows what was last sent to a slot of a device that never says what
// it holds, and says that it was not read.
func (c *call) showLastSent(t target, number int) error {
	if err := t.can("read"); err != nil {
		return err
	}
	if t.trace != "" {
		return misused(fmt.Errorf("read: --trace: device %q is asked nothing, so there is no conversation to write: leave it out", t.device.Name))
	}
	shelf, err := c.library()
	if err != nil {
		return err
	}
	last, known, err := shelf.LastSent(t.device.Name, t.port, t.unit, t.channel, number)
	if err != nil {
		return err
	}
	if !known {
		return fmt.Errorf("read: device %q never says what its slots hold, and nothing was sent to slot %d on %s from here yet: "+
			"load the slot and listen; after a push `echowright read` shows what was sent", t.device.Name, number, t.port)
	}
	k, err := understood(last)
	if err != nil {
		return err
	}
	slot, err := k.find(number)
	if err != nil {
		return err
	}
	return c.showKeptSlot(k, slot)
}

// slotView is a slot's content as scripts get it.
type slotView struct {
	Device   string         `json:"device"`
	Slot     int            `json:"slot"`
	Name     string         `json:"name"`
	LastSent string         `json:"last_sent,omitempty"` // when this was sent to a device that cannot be read
	Snapshot string         `json:"snapshot,omitempty"`  // that has what was last sent
	Setting  []profiles.Row `json:"setting"`
	Echoes   []echoView     `json:"echo"`                 // down to −60 dB within 4 s
	Unheard  string         `json:"echo_error,omitempty"` // why echo has none
}

type echoView struct {
	At    preset.Millis   `json:"ms"`
	Level preset.Decibels `json:"db"`
}

// viewSlot also says which echoes the setting makes.
func viewSlot(d *profiles.Device, number int, s profiles.Setting) slotView {
	v := slotView{Device: d.Name, Slot: number, Name: s.Name, Setting: d.Rows(s), Echoes: []echoView{}}
	echoes, err := d.Echoes(s, preset.TrainFloor, preset.TrainLimit)
	if err != nil {
		v.Unheard = err.Error()
	}
	for _, e := range echoes {
		v.Echoes = append(v.Echoes, echoView{e.At, e.Level})
	}
	return v
}

// showKeptSlot shows a slot out of a snapshot.
func (c *call) showKeptSlot(k kept, slot exchange.Slot) error {
	v := viewSlot(k.device, slot.Number, slot.Setting)
	if k.Sent {
		v.LastSent, v.Snapshot = k.Taken.Format(timeFormat), k.Name
	}
	return c.showSlot(k.device, v, slot.Setting)
}

func (c *call) showSlot(d *profiles.Device, v slotView, s profiles.Setting) error {
	if c.json {
		return ui.JSON(c.out, v)
	}
	lastKnown := ""
	if v.LastSent != "" {
		lastKnown = fmt.Sprintf(": last known, sent %s, not read", v.LastSent)
	}
	c.print("slot %d of %s%s", v.Slot, d.Name, lastKnown)
	c.showSetting(d, s)
	switch {
	case v.Unheard != "":
		c.print("its echoes cannot be listed: %s", v.Unheard)
		return nil
	case len(v.Echoes) == 0:
		c.print("no echo is heard")
		return nil
	}
	c.print("")
	t := ui.Table{Titles: []string{">echo at ms", ">dB"}}
	for _, e := range v.Echoes[:min(len(v.Echoes), mostShown)] {
		t.Add(ui.Fixed(float64(e.At), 1), ui.Fixed(float64(e.Level), 1))
	}
	t.Print(c.out)
	if rest := len(v.Echoes) - mostShown; rest > 0 {
		c.print("… and %d more: --json has them all", rest)
	}
	return nil
}
