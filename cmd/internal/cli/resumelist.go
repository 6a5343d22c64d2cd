package cli

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library"
)

// intentView is an entry of the journal as scripts get it.
type intentView struct {
	Name     string `json:"name"`
	Doing    string `json:"doing,omitempty"`
	Note     string `json:"note,omitempty"`
	Device   string `json:"device,omitempty"`
	Port     string `json:"port,omitempty"`
	Rig      string `json:"rig,omitempty"`
	Unit     int    `json:"unit"`
	Channel  int    `json:"channel,omitempty"`
	Began    string `json:"began,omitempty"`
	Slots    []int  `json:"slots"`
	Snapshot string `json:"snapshot"`
	InUse    bool   `json:"port_in_use"` // another echowright is using the port, and may be at it
	Error    string `json:"error,omitempty"`
}

func viewIntent(ctx context.Context, shelf *library.Library, e library.IntentEntry) intentView {
	i := e.Intent
	v := intentView{
		Name: e.Name, Doing: i.Doing, Note: i.Note, Device: i.Device, Port: i.Port, Rig: i.Rig, Unit: i.UnitNumber, Channel: i.Channel,
		Slots: intentSlots(i), Snapshot: i.Snapshot, InUse: standingOf(ctx, shelf, e) == portInUse,
	}
	if !i.Began.IsZero() {
		v.Began = i.Began.Format(timeFormat)
	}
	if e.Err != nil {
		v.Error = e.Err.Error()
	}
	return v
}

func (c *call) listIntents(ctx context.Context, shelf *library.Library, open []library.IntentEntry) error {
	all := []intentView{}
	for _, e := range open {
		all = append(all, viewIntent(ctx, shelf, e))
	}
	if c.json {
		return ui.JSON(c.out, map[string]any{"intent": all})
	}
	if len(all) == 0 {
		c.print("nothing is under way")
		return nil
	}
	t := ui.Table{Titles: []string{"intent", "what", "slots", "port", "begun", ""}}
	for i, v := range all {
		state := v.Error
		if v.InUse {
			state = "another echowright is using the port"
		}
		t.Add(v.Name, v.Doing, library.SlotWords(intentSlots(open[i].Intent)), v.Port, v.Began, state)
	}
	t.Print(c.out)
	return nil
}

// forgetAll drops entries, after asking about each.
func (c *call) forgetAll(ctx context.Context, shelf *library.Library, open []library.IntentEntry, o resumeOptions) error {
	forgotten := []string{}
	var failed failures
	for _, e := range open {
		if err := c.forget(ctx, shelf, e, o); err != nil {
			failed = append(failed, err)
			continue
		}
		forgotten = append(forgotten, e.Name)
		if !c.json {
			c.print("%s is forgotten; the device is as it is; %severy snapshot is still there", e.Name, keptBefore(e.Intent))
		}
	}
	switch {
	case c.json:
		failed = failed.and(ui.JSON(c.out, map[string]any{"forgotten": forgotten}))
	case len(open) == 0:
		c.print("nothing is under way")
	}
	return failed.err()
}

func (c *call) forget(ctx context.Context, shelf *library.Library, e library.IntentEntry, o resumeOptions) error {
	unlock, err := lockIntent(ctx, shelf, e)
	if err != nil {
		return err
	}
	defer unlock()
	if !o.yes {
		if err := c.agree(ctx, fmt.Sprintf("Forget %s and leave the slots as they are?", e.Name)); err != nil {
			return fmt.Errorf("%s stays in the journal: %w", e.Name, err)
		}
	}
	return shelf.Finish(ctx, e.Name)
}

// completeIntent offers what is under way as the first argument.
func (c *call) completeIntent(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	shelf, err := c.library()
	if err != nil {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	open, _ := shelf.Intents() // completion must not fail
	var names []string
	for _, e := range open {
		names = append(names, e.Name)
	}
	return firstOnly(args, names...), cobra.ShellCompDirectiveNoFileComp
}
