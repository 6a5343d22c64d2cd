package cli

import (
	"context"
	"fmt"
	"time"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/preset"
)

// shownUnit is a unit of the library as scripts get it: the names of its file.
type shownUnit struct {
	preset.Unit
	Origin   *originView `json:"origin,omitempty"`
	Revision int         `json:"revision"`
	Path     string      `json:"path"`
}

func runLibraryShow(c *call, name string) error {
	shelf, err := c.library()
	if err != nil {
		return err
	}
	e, err := shelf.Units.Get(name)
	if err != nil {
		return brokenInside(err)
	}
	if c.json {
		return ui.JSON(c.out, shownUnit{Unit: e.Value, Origin: viewOrigin(e.Value.Origin), Revision: e.Revision, Path: e.Path})
	}
	c.showUnit(e)
	return nil
}

func (c *call) showUnit(e library.Entry[preset.Unit]) {
	u := e.Value
	c.print("%s", oneLine(u))
	c.print("%s, revision %d, %s", u.Kind, e.Revision, e.Path)
	if o := u.Origin; o != nil {
		from := o.Take
		if !o.Measured.IsZero() {
			from += fmt.Sprintf(", measured on %s", o.Measured.Format(time.DateOnly))
		}
		c.print("from %s", from)
	}
	if m := u.Motion; m != nil {
		c.print("wow %s at %s, flutter %s at %s", m.WowPercent, m.WowHz, m.FlutterPercent, m.FlutterHz)
	}
	if d := u.Drive; d != nil {
		c.print("drive %s dB, bias %s", ui.Fixed(float64(d.Gain), 1), ui.Fixed(d.Bias, 2))
	}
	if u.Notes != "" {
		fmt.Fprintln(c.out, ui.Lines(u.Notes))
	}
	c.print("")
	c.printHeads(u)
}

func runLibraryRemove(ctx context.Context, c *call, name string) error {
	shelf, err := c.library()
	if err != nil {
		return err
	}
	trash, err := shelf.Units.Remove(ctx, name)
	if err != nil {
		return err
	}
	if c.json {
		return ui.JSON(c.out, map[string]string{"removed": name, "trash": trash})
	}
	c.print("%s lies in the trash now: %s", name, relative(trash))
	return nil
}
