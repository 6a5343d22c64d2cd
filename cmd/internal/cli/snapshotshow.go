package cli

import (
	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/library/exchange"
)

// keptSlot is a slot of a snapshot in a line.
type keptSlot struct {
	Slot   int    `json:"slot"`
	Name   string `json:"name"`
	Echoes int    `json:"echoes"` // that it makes, down to −60 dB within 4 s
	Error  string `json:"error,omitempty"`
}

func (k kept) line(s exchange.Slot) keptSlot {
	v := keptSlot{Slot: s.Number}
	if s.Fault != nil {
		v.Error = s.Fault.Error()
		return v
	}
	v.Name, v.Echoes = s.Setting.Name, len(viewSlot(k.device, s.Number, s.Setting).Echoes)
	return v
}

func runSnapshotShow(c *call, name string) error {
	k, err := c.kept(name)
	if err != nil {
		return err
	}
	v := viewSnapshot(k.Snapshot)
	for _, slot := range k.Slots {
		v.Content = append(v.Content, k.line(k.slot(k.device, slot)))
	}
	c.sayIfProfileChanged(k)
	if c.json {
		return ui.JSON(c.out, v)
	}
	c.showSnapshot(v, k.goOn())
	return nil
}

func (c *call) showSnapshot(v shownSnapshot, goOn string) {
	slots := " slots"
	if v.Complete && len(v.Slots) == 1 {
		slots = " slot"
	}
	c.print("%s: %s of %s, %s", v.Name, v.howMany()+slots, v.Device, v.origin())
	if !v.Complete {
		c.print("partial: %s not there; `%s` goes on", notThere(v.missing()), goOn)
	}
	if !v.Sealed {
		c.print("%s", unsealed)
	}
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
}

func notThere(missing []int) string {
	words := library.SlotWords(missing)
	if len(missing) == 1 {
		return words + " is"
	}
	return words + " are"
}

// sayIfProfileChanged tells that the profile in use today is another one than that
// by which a snapshot is read. None today says nothing.
func (c *call) sayIfProfileChanged(k kept) {
	today, err := c.device(k.Device)
	if err != nil || today.SHA256() == k.ProfileSHA256 {
		return
	}
	c.say("the profile of %s has changed since %s was kept: shown by the one kept with it", k.Device, k.Name)
}

func runSnapshotSlot(c *call, name string, number int) error {
	k, err := c.kept(name)
	if err != nil {
		return err
	}
	slot, err := k.find(number)
	if err != nil {
		return err
	}
	c.sayIfProfileChanged(k)
	return c.showKeptSlot(k, slot)
}
