package cli

import (
	"context"
	"errors"

	"echowright/cmd/internal/ui"
	"echowright/library/exchange"
	"echowright/profiles"
)

// pushUnsent is a push to nobody: it shows what would be sent, or writes it into a
// file for another program.
func (c *call) pushUnsent(ctx context.Context, t target, p planned, o pushOptions) error {
	session := exchange.Session{Device: t.device, Unit: t.unit, Warn: c.alarm}
	if err := session.CheckRunaway(o.slot, p.Setting, o.allowRunaway); err != nil {
		return err
	}
	var err error
	if p.steps, err = p.stepsTo(t.unit, o.slot); err != nil {
		return err
	}
	if o.load {
		mute, err := t.device.MuteSteps(t.unit)
		if err != nil {
			return err
		}
		load, err := t.device.LoadStep(t.unit, o.slot)
		if err != nil {
			return misused(err)
		}
		p.steps = append(append(p.steps, mute...), load)
	}
	if o.dryRun {
		return c.pushDry(t, p)
	}
	return c.pushToFile(ctx, t, p, o.slot)
}

func (c *call) pushDry(t target, p planned) error {
	c.say("a dry run: nothing is sent to %s", t.place())
	if c.json {
		return ui.JSON(c.out, viewPlan(p))
	}
	c.showPlan(p)
	c.print("")
	c.showSteps(p.steps)
	return nil
}

// pushToFile writes what would be sent, as a .syx file for another program: all of
// it or, where it is broken off, nothing.
func (c *call) pushToFile(ctx context.Context, t target, p planned, slot int) error {
	out, err := c.Ports.Open(ctx, t.port)
	if err != nil {
		return err
	}
	done := exchange.Pushed{Slot: slot, Verified: exchange.VerifiedUnreadable, Holds: exchange.HoldsUnknown, Differences: []profiles.Difference{}}
	var all []byte
	for _, s := range p.steps {
		all = append(all, s.Send...)
		done.Messages++
	}
	done.Bytes = len(all)
	if err := errors.Join(out.Send(ctx, all), out.Close()); err != nil {
		return err
	}
	if c.json {
		return ui.JSON(c.out, pushedView{Pushed: done})
	}
	c.print("written: %s, %s; whether a device takes it cannot be seen here", t.port, ui.Count(done.Bytes, "byte", "bytes"))
	return nil
}
