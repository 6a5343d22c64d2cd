package cli

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/library/exchange"
	"echowright/midi"
)

// restoreDry shows what a restore would send to a device whose slots hold something
// else. It needs no device.
func (c *call) restoreDry(t target, shelf *library.Library, name string, places []exchange.Placed, o restoreOptions) error {
	session := exchange.Session{Device: t.device, Unit: t.unit, Shelf: shelf, Warn: c.alarm}
	wanted, err := session.Wanted(name, places, o.safety())
	if err != nil {
		return err
	}
	var all []midi.Step
	slots := []int{}
	for _, w := range wanted {
		steps, err := stepsOf(t, w)
		if err != nil {
			return fmt.Errorf("snapshot %q: slot %d: %w", name, w.From, err)
		}
		all, slots = append(all, steps...), append(slots, w.To)
	}
	c.say("a dry run: nothing is sent to %s; of slots that hold it already nothing would be sent either, unless --all", t.place())
	if c.json {
		return ui.JSON(c.out, map[string]any{"snapshot": name, "slots": slots, "message": hexes(all)})
	}
	c.showSteps(all)
	return nil
}

// stepsOf are what makes a slot hold what it is to hold.
func stepsOf(t target, w exchange.Change) ([]midi.Step, error) {
	if t.device.Readable() {
		return t.device.WriteSlotSteps(t.unit, w.To, w.Memory)
	}
	return t.device.PushSteps(t.unit, w.To, w.Setting)
}

// restoredView is what came of a restore as scripts get it.
type restoredView struct {
	exchange.Restored
	Broken *brokenView `json:"broken,omitempty"` // where it ended before its end
}

type brokenView struct {
	Slot      int            `json:"slot"`
	Holds     exchange.Holds `json:"holds"` // that slot
	Untouched []int          `json:"untouched"`
	Intent    string         `json:"intent,omitempty"` // what the journal has still to do
}

func viewRestored(done exchange.Restored, unwritten *exchange.UnwrittenError) restoredView {
	v := restoredView{Restored: done}
	slices.Sort(v.Written)
	if unwritten != nil {
		v.Broken = &brokenView{unwritten.Slot, unwritten.Holds, listOrEmpty(unwritten.Untouched), unwritten.Intent}
	}
	return v
}

// showRestored is the result; unwritten is nil where all went well.
func (c *call) showRestored(name string, done exchange.Restored, unwritten *exchange.UnwrittenError) error {
	v := viewRestored(done, unwritten)
	if c.json {
		return ui.JSON(c.out, v)
	}
	c.print("%s", restoredWords(name, v))
	if v.Broken != nil {
		c.print("%s", brokenWords(*v.Broken))
	}
	return nil
}

func restoredWords(name string, v restoredView) string {
	if v.Broken == nil && len(v.Written) == 0 {
		return fmt.Sprintf("nothing to write: the device holds all of %s already", name)
	}
	if v.Verified == exchange.VerifiedUnreadable {
		return fmt.Sprintf("sent: %s; the device cannot be read, so only your ear can tell what it holds; what was sent is kept as last known", library.SlotWords(v.Written))
	}
	text := "written and verified: " + library.SlotWords(v.Written)
	if len(v.Same) > 0 || v.Broken == nil {
		text += fmt.Sprintf("; %s held it already", ui.Count(len(v.Same), "slot", "slots"))
	}
	if v.Snapshot != "" {
		text += "; what was overwritten is kept: " + v.Snapshot
	}
	return text
}

func brokenWords(b brokenView) string {
	what := map[exchange.Holds]string{
		exchange.HoldsAsked:  "holds what it was to hold",
		exchange.HoldsBefore: "holds what it held before",
	}[b.Holds]
	if what == "" {
		what = "may hold the old, the new, or half of each"
	}
	text := fmt.Sprintf("broken off at slot %d: it %s", b.Slot, what)
	if len(b.Untouched) > 0 {
		text += fmt.Sprintf("; not touched: %s", library.SlotWords(b.Untouched))
	}
	return text
}

// changeWords say what a restore would change in a slot.
func changeWords(change exchange.Change, readable bool) string {
	slot := fmt.Sprintf("slot %d", change.To)
	switch {
	case !readable:
		return slot + ": what it holds cannot be read; what was sent to it is sent again"
	case bytes.Equal(change.Now.Memory, change.Memory):
		return slot + " holds it already, and is written all the same"
	case change.Now.Fault != nil:
		return fmt.Sprintf("%s holds no setting: %v", slot, change.Now.Fault)
	case change.Setting.Codes == nil:
		return slot + " holds something else; what it gets is no setting, but the bytes that were kept"
	}
	return slot + " holds something else: " + differenceWords(change)
}

func differenceWords(change exchange.Change) string {
	if len(change.Differences) == 0 {
		return "bytes that mean no parameter"
	}
	words := make([]string, 0, 4)
	for i, d := range change.Differences {
		if i == 3 {
			words = append(words, fmt.Sprintf("and %d more", len(change.Differences)-i))
			break
		}
		words = append(words, fmt.Sprintf("%s %s in place of %s", d.Parameter, exchange.Figure(d.Was), exchange.Figure(d.Is)))
	}
	return strings.Join(words, ", ")
}
