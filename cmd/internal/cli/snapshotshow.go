package cli

import (
	"fmt"

	"echowright/cmd/internal/ui"
	"echowright/profiles"
)

// keptSlot is a slot of a snapshot in a line.
type keptSlot struct {
	Slot   int    `json:"slot"`
	Name   string `json:"name"`
	Echoes int    `json:"echoes"` // that it makes, down to −60 dB within 4 s
	Error  string `json:"error,omitempty"`
}

func (k kept) line(slot int, messages []byte) keptSlot {
	v := keptSlot{Slot: slot}
	s, err := k.setting(messages)
	if err != nil {
		v.Error = err.Error()
		return v
	}
	v.Name, v.Echoes = s.Name, len(viewSlot(k.device, slot, s).Echoes)
	return v
}

func runSnapshotShow(c *call, name string) error {
	k, err := c.kept(name)
	if err != nil {
		return err
	}
	v := viewSnapshot(k.Snapshot)
	for _, slot := range k.Slots {
		v.Content = append(v.Content, k.line(slot.Slot, slot.Messages))
	}
	if c.json {
		return ui.JSON(c.out, v)
	}
	c.print("%s: %s of %s, taken %s on %s", v.Name, ui.Count(len(v.Slots), "slot", "slots"), v.Device, v.Taken, v.Port)
	if v.Note != "" {
		c.print("%s", v.Note)
	}
	t := ui.Table{Titles: []string{">slot", "name", ">echoes", ""}}
	for _, s := range v.Content {
		if s.Error != "" {
			t.Add(s.Slot, "", "", "no setting: "+s.Error)
			continue
		}
		t.Add(s.Slot, s.Name, s.Echoes, "")
	}
	t.Print(c.out)
	return nil
}

func runSnapshotSlot(c *call, name string, number int) error {
	k, err := c.kept(name)
	if err != nil {
		return err
	}
	for _, slot := range k.Slots {
		if slot.Slot != number {
			continue
		}
		s, err := k.setting(slot.Messages)
		if err != nil {
			return fmt.Errorf("snapshot %q: slot %d: %w; its bytes are kept all the same", name, number, err)
		}
		return c.showSlot(k.device, number, s)
	}
	return misused(fmt.Errorf("snapshot %q does not hold slot %d: it holds %s", name, number, slotList(viewSnapshot(k.Snapshot).Slots)))
}

// slotDifference is a parameter of a slot in which two snapshots differ.
type slotDifference struct {
	Slot int `json:"slot"`
	profiles.Difference
}

func runSnapshotDiff(c *call, before, after string) error {
	a, err := c.kept(before)
	if err != nil {
		return err
	}
	b, err := c.kept(after)
	if err != nil {
		return err
	}
	if a.Device != b.Device || a.ProfileSHA256 != b.ProfileSHA256 {
		return fmt.Errorf("snapshots %q and %q cannot be compared: they are of %s and %s, or of different versions of one profile; "+
			"`echowright snapshot show` shows each", before, after, a.Device, b.Device)
	}
	all := []slotDifference{}
	for _, slot := range b.Slots {
		found, err := a.differences(slot.Slot, b, slot.Messages)
		if err != nil {
			c.warn(err.Error())
			continue
		}
		all = append(all, found...)
	}
	if c.json {
		return ui.JSON(c.out, map[string]any{"difference": all})
	}
	if len(all) == 0 {
		c.print("no parameter differs in the slots that both hold")
		return nil
	}
	t := ui.Table{Titles: []string{">slot", "parameter", ">was", ">is", "unit"}}
	for _, d := range all {
		t.Add(d.Slot, d.Parameter, inWords(d.Was), inWords(d.Is), d.Unit)
	}
	t.Print(c.out)
	return nil
}

// differences are those of one slot; none if only one of the two holds it.
func (k kept) differences(number int, other kept, messages []byte) ([]slotDifference, error) {
	for _, slot := range k.Slots {
		if slot.Slot != number {
			continue
		}
		was, err := k.setting(slot.Messages)
		if err != nil {
			return nil, fmt.Errorf("snapshot %q: slot %d: %w", k.Name, number, err)
		}
		is, err := other.setting(messages)
		if err != nil {
			return nil, fmt.Errorf("snapshot %q: slot %d: %w", other.Name, number, err)
		}
		var all []slotDifference
		for _, d := range k.device.Differences(was, is) {
			all = append(all, slotDifference{number, d})
		}
		return all, nil
	}
	return nil, nil
}
