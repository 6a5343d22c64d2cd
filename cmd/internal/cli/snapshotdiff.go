package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/library/exchange"
	"echowright/profiles"
)

// slotDifference is something in which a slot differs: a parameter, or what the
// remark says.
type slotDifference struct {
	Slot int `json:"slot"`
	profiles.Difference
	Remark string `json:"remark,omitempty"`
}

// A diff is what was found in the slots that both sides hold.
type diff struct {
	Compared   []int            `json:"compared"`
	Difference []slotDifference `json:"difference"`
}

// differ compares slots as they were with those as they are, by the words of a
// device.
func differ(d *profiles.Device, was, is []exchange.Slot) diff {
	all := diff{Compared: []int{}, Difference: []slotDifference{}}
	for _, before := range was {
		i := slices.IndexFunc(is, func(s exchange.Slot) bool { return s.Number == before.Number })
		if i < 0 {
			continue
		}
		all.Compared = append(all.Compared, before.Number)
		all.Difference = append(all.Difference, slotDifferences(d, before, is[i])...)
	}
	return all
}

func slotDifferences(d *profiles.Device, was, is exchange.Slot) []slotDifference {
	remark := func(text string, fault error) []slotDifference {
		if fault != nil {
			text += ": " + fault.Error()
		}
		return []slotDifference{{Slot: was.Number, Remark: text}}
	}
	switch {
	case bytes.Equal(was.Message, is.Message), was.Memory != nil && bytes.Equal(was.Memory, is.Memory):
		return nil
	case was.Fault != nil:
		return remark("was no setting", was.Fault)
	case is.Fault != nil:
		return remark("is no setting", is.Fault)
	}
	var all []slotDifference
	for _, p := range d.Differences(was.Setting, is.Setting) {
		all = append(all, slotDifference{Slot: was.Number, Difference: p})
	}
	if len(all) == 0 && was.Memory != nil {
		return remark("bytes differ that mean no parameter", nil)
	}
	return all
}

// runSnapshotDiff compares two snapshots, by the profile that is kept with the
// second one.
func runSnapshotDiff(c *call, before, after string) error {
	a, err := c.kept(before)
	if err != nil {
		return err
	}
	b, err := c.kept(after)
	if err != nil {
		return err
	}
	if err := c.checkComparable(a, b.device, "kept with "+b.Name); err != nil {
		return err
	}
	was, is := a.slots(b.device), b.slots(b.device)
	c.sayOnlyIn(a.Name, was, is)
	c.sayOnlyIn(b.Name, is, was)
	return c.showDiff(differ(b.device, was, is))
}

// runDeviceDiff compares a snapshot with what a device holds in the same slots
// now, by the profile in use today.
func runDeviceDiff(c *call, cmd *cobra.Command, before string, o targetFlags) error {
	t, err := o.find(c, cmd)
	if err != nil {
		return err
	}
	k, err := c.kept(before)
	if err != nil {
		return err
	}
	if err := t.can("diff"); err != nil {
		return err
	}
	if err := c.checkComparable(k, t.device, "in use today"); err != nil {
		return err
	}
	return t.talk(cmd.Context(), c, "diff", func(s *exchange.Session) error {
		was := k.slots(t.device)
		is, err := readThese(cmd.Context(), s, was)
		if err != nil {
			return err
		}
		return c.showDiff(differ(t.device, was, is))
	})
}

// readThese reads the slots that others are to be compared with.
func readThese(ctx context.Context, s *exchange.Session, others []exchange.Slot) ([]exchange.Slot, error) {
	var all []exchange.Slot
	for i, other := range others {
		slot, _, err := s.ReadSlot(ctx, other.Number)
		if err != nil {
			return nil, err
		}
		all = append(all, slot)
		s.Progress(i+1, len(others))
	}
	return all, nil
}

// checkComparable refuses a snapshot of another model than the device whose words
// are used. Another version of its profile is told.
func (c *call) checkComparable(k kept, d *profiles.Device, whose string) error {
	if k.Device != d.Name {
		return fmt.Errorf("snapshot %q is of device %q, not of %q: the two cannot be compared", k.Name, k.Device, d.Name)
	}
	if k.ProfileSHA256 != d.SHA256() {
		c.say("%s was kept with another version of the profile of %s: both are read by the one %s", k.Name, d.Name, whose)
	}
	return nil
}

func (c *call) sayOnlyIn(name string, slots, others []exchange.Slot) {
	var only []int
	for _, s := range slots {
		if !slices.ContainsFunc(others, func(o exchange.Slot) bool { return o.Number == s.Number }) {
			only = append(only, s.Number)
		}
	}
	if len(only) > 0 {
		c.say("only in %s: %s", name, library.SlotWords(only))
	}
}

func (c *call) showDiff(all diff) error {
	if len(all.Compared) == 0 {
		return errors.New("there is nothing to compare: no slot is in both")
	}
	if c.json {
		return ui.JSON(c.out, all)
	}
	if len(all.Difference) == 0 {
		c.print("no parameter differs in the slots that both hold: %s", library.SlotWords(all.Compared))
		return nil
	}
	t := ui.Table{Titles: []string{">slot", "parameter", ">was", ">is", "unit"}}
	for _, d := range all.Difference {
		if d.Remark != "" {
			t.Add(d.Slot, d.Remark, "", "", "")
			continue
		}
		t.Add(d.Slot, d.Parameter, exchange.Figure(d.Was), exchange.Figure(d.Is), d.Unit)
	}
	t.Print(c.out)
	return nil
}
