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
	c.say("a dry run: nothing is sent to %s", t.port)
	if c.json {
		return ui.JSON(c.out, viewPlan(p))
	}
	c.showPlan(p)
	c.print("")
	c.showSteps(p.steps)
	return nil
}

// pushToFile writes what would be sent, as a .syx file for another program.
func (c *call) pushToFile(ctx context.Context, t target, p planned, slot int) error {
	out, err := c.Ports.Open(ctx, t.port)
	if err != nil {
		return err
	}
	done := exchange.Pushed{Slot: slot, Verified: exchange.VerifiedUnreadable, Holds: exchange.HoldsUnknown, Differences: []profiles.Difference{}}
	for _, s := range p.steps {
		if err := out.Send(ctx, s.Send); err != nil {
			return errors.Join(err, out.Close())
		}
		done.Messages++
		done.Bytes += len(s.Send)
	}
	if err := out.Close(); err != nil {
		return err
	}
	if c.json {
		return ui.JSON(c.out, pushedView{Pushed: done})
	}
	c.print("written: %s, %s; whether a device takes it cannot be seen here", t.port, ui.Count(done.Bytes, "byte", "bytes"))
	return nil
}
