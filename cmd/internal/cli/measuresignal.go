package cli

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/measure/clicks"
	"echowright/preset/measure/response"
	"echowright/preset/measure/sweep"
	"echowright/preset/signals"
)

// runMeasureSignal measures a take that holds a test signal. Sweep and clicks show
// heads, so that a unit comes of them; tone and steps add to one.
func runMeasureSignal(c *call, cmd *cobra.Command, path string, o measureOptions) error {
	s, err := readSignal(o.signal)
	if err != nil {
		return err
	}
	if err := o.settle(c, cmd, path, s.Kind()); err != nil {
		return err
	}
	r, err := c.openTake(path)
	if err != nil {
		return err
	}
	defer r.close()
	switch s.Kind() {
	case signals.KindTone:
		return o.tone(cmd.Context(), c, r, s)
	case signals.KindSteps:
		return o.steps(cmd.Context(), c, r, s)
	}
	return o.response(cmd.Context(), c, r, s)
}

func readSignal(path string) (signals.Signal, error) {
	text, err := readText(path)
	if err != nil {
		return signals.Signal{}, err
	}
	s, err := signals.Parse(path, text)
	if err != nil {
		return s, mending("signal file", err)
	}
	return s, nil
}

// hearSignal reads a take that should hold s. Of one that is far too long as much
// is read as is needed to say so.
func (o *measureOptions) hearSignal(ctx context.Context, c *call, r *recording, s signals.Signal) (measure.Take, error) {
	const tooLong = 1201 // s beside the signal: see [signals.Signal.CheckTake]
	return o.hear(ctx, c, r, r.within(s.Seconds()+tooLong))
}

// A heads result is what a sweep or clicks show.
type headsResult struct {
	response.Result
	harmonics []sweep.Distortion // of a sweep
}

// response measures a sweep or clicks.
func (o *measureOptions) response(ctx context.Context, c *call, r *recording, s signals.Signal) error {
	take, err := o.hearSignal(ctx, c, r, s)
	if err != nil {
		return err
	}
	m, err := patiently(ctx, c, r.path, func(func(float64)) (headsResult, error) { return o.measureHeads(take, s) })
	if err != nil {
		return err
	}
	u, err := o.unit(preset.Unit{Heads: m.Heads, Direct: &m.Direct}, r, c.Now())
	if err != nil {
		return err
	}
	if err := o.keep.unit(ctx, c, u); err != nil {
		return err
	}
	if o.plot != "" {
		if err := o.drawInto(c, headsLine(u, s.Kind()), responsePanels(u, take, s, m)...); err != nil {
			return err
		}
	}
	m.Warnings = append(m.Warnings, o.inferences(u)...)
	c.warnAll(m.Warnings)
	if c.json {
		return ui.JSON(c.out, viewHeads(u, s.Kind(), m))
	}
	c.showHeads(u, s.Kind(), m)
	return nil
}

func (o *measureOptions) measureHeads(take measure.Take, s signals.Signal) (headsResult, error) {
	if s.Kind() == signals.KindClicks {
		r, err := clicks.Measure(take, s, o.heads)
		return headsResult{Result: r}, err
	}
	r, err := sweep.Measure(take, s, o.heads)
	return headsResult{Result: r.Result, harmonics: r.Harmonics}, err
}

// added is the unit that a tone or steps add to, and the head by which they came;
// zero where none is named.
func (o *measureOptions) added(c *call) (u preset.Unit, head preset.Head, err error) {
	if o.keep.into == "" {
		return u, head, nil
	}
	shelf, err := c.library()
	if err != nil {
		return u, head, err
	}
	e, err := shelf.Units.Get(o.keep.into)
	var none *library.NotFoundError
	if errors.As(err, &none) {
		return u, head, fmt.Errorf("--into %s: %w; measure its heads first", o.keep.into, err)
	}
	if err != nil {
		return u, head, brokenInside(err)
	}
	u = e.Value
	if len(o.heads) == 0 && len(u.Heads) == 1 {
		return u, u.Heads[0], nil
	}
	if len(o.heads) == 1 {
		var ok bool
		if head, ok = u.Head(o.heads[0]); !ok {
			return u, head, misused(fmt.Errorf("--heads %d: unit %q has no such head, it has %s", o.heads[0], u.Name, joined(u.HeadNumbers())))
		}
	}
	return u, head, nil
}

// keepAdded files the unit with what was added to it; what it was goes to the
// library's trash.
func (o *measureOptions) keepAdded(ctx context.Context, c *call, u preset.Unit) error {
	keep := o.keep
	keep.replace = true
	return keep.unit(ctx, c, tidied(u))
}
