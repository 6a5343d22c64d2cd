package cli

import (
	"fmt"

	"echowright/cmd/internal/ui"
	"echowright/library/exchange"
	"echowright/profiles"
)

// pushedView is what came of a push as scripts get it.
type pushedView struct {
	exchange.Pushed
	Loaded    bool     `json:"loaded"`
	Checklist []string `json:"checklist,omitempty"` // what there is to hear, where nothing can be read
}

// showPushed is the result; unwritten is nil where all went well.
func (c *call) showPushed(v pushedView, unit string, unwritten *exchange.UnwrittenError) error {
	if c.json {
		return ui.JSON(c.out, v)
	}
	c.print("%s", pushedWords(v.Pushed, unit, unwritten))
	if v.Loaded {
		c.print("slot %d sounds now", v.Slot)
	}
	kept := ""
	switch {
	case v.Snapshot == "":
	case v.Verified == exchange.VerifiedUnreadable || unwritten != nil && !unwritten.Readable:
		kept = "; what was last sent to it before is kept: " + v.Snapshot
	default:
		kept = "; what the slot held before is kept: " + v.Snapshot
	}
	c.print("%s, %s, %s s%s", ui.Count(v.Messages, "message", "messages"), ui.Count(v.Bytes, "byte", "bytes"), ui.Fixed(float64(v.Seconds), 2), kept)
	c.showDifferences("wanted", "held", v.Differences)
	if len(v.Checklist) > 0 {
		c.print("")
		for i, line := range v.Checklist {
			c.print("%d. %s", i+1, line)
		}
	}
	return nil
}

// pushedWords say which of the two the slot holds: the old, the new, or nobody
// knows.
func pushedWords(done exchange.Pushed, unit string, unwritten *exchange.UnwrittenError) string {
	proof := ", read back and verified"
	if unwritten != nil && !unwritten.Readable {
		proof = ", as far as can be told of a device that cannot be read"
	}
	switch {
	case done.Holds == exchange.HoldsBefore:
		return fmt.Sprintf("slot %d holds what it held before%s", done.Slot, proof)
	case done.Holds == exchange.HoldsUnknown:
		return fmt.Sprintf("whether slot %d holds the old or the new, or half of each, is not known", done.Slot)
	case done.Verified == exchange.VerifiedUnreadable:
		return fmt.Sprintf("%s was sent into slot %d: the device cannot be read, so only your ear can tell whether it holds it; what was sent is kept as last known", unit, done.Slot)
	case done.Snapshot == "":
		return fmt.Sprintf("nothing to write: slot %d holds %s already, read back and compared", done.Slot, unit)
	}
	return fmt.Sprintf("slot %d holds %s now: read back and verified", done.Slot, unit)
}

func (c *call) showDifferences(was, is string, all []profiles.Difference) {
	if len(all) == 0 {
		return
	}
	t := ui.Table{Titles: []string{"parameter", ">" + was, ">" + is, "unit"}}
	for _, d := range all {
		t.Add(d.Parameter, exchange.Figure(d.Was), exchange.Figure(d.Is), d.Unit)
	}
	t.Print(c.out)
}
