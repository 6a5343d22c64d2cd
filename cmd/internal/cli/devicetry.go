package cli

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/midi"
	"echowright/midi/transfer"
	"echowright/preset/nearest"
	"echowright/profiles"
)

type tryOptions struct {
	target       targetFlags
	allowRunaway bool
}

func newDeviceTryCommand(c *call) *cobra.Command {
	var o tryOptions
	cmd := &cobra.Command{
		Use:   "try [DEVICE] PARAMETER=VALUE …",
		Short: "Set single parameters of what sounds now, and show the bytes and what came back",
		Long: `Set one parameter or several of what the device sounds like now, to hold its
description against the device itself: the bytes that were sent are shown, and
what came back. Nothing is stored. Values are written as 250ms, -6dB, 1/8., off,
silent, a choice, or #17 for code 17. Name the device and its port, or a rig.

Mind your ears and loudspeakers: turn the device's output down before you try
levels and feedback. What can bring a loop to 0 dB a turn or more, so that it builds
up by itself until something gives, is sent only with --allow-runaway. Nobody knows
what the other parameters hold: those that the same command sets before count as
set, all others at their loudest.`,
		Example: "  echowright device try five-line --port raw:/dev/snd/midiC1D0 a-time=250ms a-level=-6dB\n" +
			"  echowright device try --rig stage a-feedback=-12dB",
		ValidArgsFunction: func(cmd *cobra.Command, args []string, part string) ([]string, cobra.ShellCompDirective) {
			if len(args) == 0 && o.target.rig == "" {
				return c.completeDevice(cmd, args, part)
			}
			return c.parameterNames(cmd, o.target, args), cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveNoSpace
		},
		RunE: func(cmd *cobra.Command, args []string) error { return runDeviceTry(c, cmd, args, o) },
	}
	o.target.add(c, cmd)
	flags := cmd.Flags()
	_ = flags.MarkHidden("device") // it is the first argument
	flags.BoolVar(&o.allowRunaway, "allow-runaway", false, "send also what lets a loop build up by itself")
	flags.BoolVar(&o.allowRunaway, "over-unity", false, "what --allow-runaway was called once")
	_ = flags.MarkHidden("over-unity")
	return cmd
}

// parameterNames are what a shell may offer before the "=".
func (c *call) parameterNames(cmd *cobra.Command, f targetFlags, args []string) []string {
	if f.rig == "" && f.device == "" {
		f.device, f.port = args[0], emulatorScheme+":"+args[0] // any port does: nothing is opened
	}
	t, err := f.find(c, cmd)
	if err != nil {
		return nil
	}
	var names []string
	for _, p := range t.device.Parameters {
		names = append(names, p.Name+"=")
	}
	return names
}

// A trial is one parameter and the code that it is to be set to.
type trial struct {
	parameter, code int
	step            midi.Step
}

func runDeviceTry(c *call, cmd *cobra.Command, args []string, o tryOptions) error {
	assignments, err := o.name(cmd, args)
	if err != nil {
		return err
	}
	t, err := o.target.find(c, cmd)
	if err != nil {
		return err
	}
	watch := newLoopWatch(t.device)
	var trials []trial
	for _, a := range assignments {
		one, err := t.trial(a)
		if err != nil {
			return misused(fmt.Errorf("%s: %w", a, err))
		}
		if err := watch.judge(c, one, o.allowRunaway); err != nil {
			return err
		}
		trials = append(trials, one)
	}
	return c.tryAll(cmd.Context(), t, trials)
}

// name takes the device from the arguments, where no rig says it; the others are
// what to set.
func (o *tryOptions) name(cmd *cobra.Command, args []string) (assignments []string, err error) {
	if o.target.rig == "" && o.target.device == "" && len(args) > 0 {
		o.target.device, args = args[0], args[1:]
	}
	if len(args) == 0 {
		return nil, misuse(cmd, "try: name the device and what to set, such as: try five-line a-time=250ms --port …")
	}
	if o.target.rig == "" && o.target.port == "" {
		return nil, misuse(cmd, "try: --port is missing: `echowright ports` lists what is there")
	}
	return args, nil
}

// trial reads NAME=VALUE.
func (t target) trial(assignment string) (trial, error) {
	name, value, ok := strings.Cut(assignment, "=")
	if !ok {
		return trial{}, errors.New("write it as PARAMETER=VALUE, such as a-time=250ms")
	}
	i := t.device.Parameter(name)
	if i == profiles.None {
		var names []string
		for _, p := range t.device.Parameters {
			names = append(names, p.Name)
		}
		hint := ""
		if near := nearest.Name(name, names); near != "" {
			hint = fmt.Sprintf("did you mean %q? ", near)
		}
		return trial{}, fmt.Errorf("device %q has no parameter %q: %s`echowright device show %[1]s` lists them", t.device.Name, name, hint)
	}
	p := t.device.Parameters[i]
	code, err := p.Scale.Parse(value)
	if err != nil {
		return trial{}, err
	}
	step, err := t.device.SetStep(t.unit, i, code)
	return trial{parameter: i, code: code, step: step}, err
}

// tryAll sends one trial after the other and shows what passed.
func (c *call) tryAll(ctx context.Context, t target, trials []trial) error {
	unlock, err := t.lock(ctx, c, "try", false)
	if err != nil {
		return err
	}
	defer unlock()
	p, trace, err := t.open(ctx, c)
	if err != nil {
		return err
	}
	defer trace.end(c)
	var passed []transfer.TraceEvent
	link := t.link(p, func(e transfer.TraceEvent) {
		e.Bytes = slices.Clone(e.Bytes)
		passed = append(passed, e)
		trace.remark(e)
	})
	defer link.Close()
	views := []triedView{}
	var failed error
	for _, one := range trials {
		passed = passed[:0]
		steps := []midi.Step{one.step}
		if ask, err := t.device.AskStep(t.unit, one.parameter); err == nil && !t.writeOnly() {
			steps = append(steps, ask)
		}
		if t.writeOnly() {
			steps[0].Answers = nil
		}
		result, err := link.Run(ctx, steps)
		views = append(views, t.tried(ctx, one, passed, result, err))
		if err != nil {
			failed = err
			break
		}
	}
	if err := c.showTried(views); err != nil {
		return err
	}
	return failed
}

// triedView is what became of one parameter.
type triedView struct {
	Parameter string   `json:"parameter"`
	Value     any      `json:"value"`
	Unit      string   `json:"unit"`
	Code      int      `json:"code"`
	Sent      []string `json:"sent"`
	Received  []string `json:"received"`
	Holds     *int     `json:"holds,omitempty"` // the code that the device says it has now
	Failed    string   `json:"failed,omitempty"`
}

func (t target) tried(ctx context.Context, one trial, passed []transfer.TraceEvent, r transfer.Result, err error) triedView {
	p := t.device.Parameters[one.parameter]
	row := rowOf(t.device, one.parameter, one.code)
	v := triedView{Parameter: p.Name, Value: row.Value, Unit: row.Unit, Code: one.code, Sent: []string{}, Received: []string{}}
	var sent []byte // may have gone in pieces
	keep := func() {
		if len(sent) > 0 {
			v.Sent, sent = append(v.Sent, midi.Hex(sent)), nil
		}
	}
	for _, e := range passed {
		switch e.Dir {
		case transfer.Out:
			sent = append(sent, e.Bytes...)
		case transfer.In:
			keep()
			v.Received = append(v.Received, midi.Hex(e.Bytes))
		}
	}
	keep()
	if err != nil {
		v.Failed = errorWords(ctx, err)
		return v
	}
	if len(r.Replies) > 1 {
		if code, err := t.device.Code(r.Replies[1].Message); err == nil {
			v.Holds = &code
		}
	}
	return v
}

func (c *call) showTried(all []triedView) error {
	if c.json {
		return ui.JSON(c.out, map[string]any{"tried": all})
	}
	for _, v := range all {
		c.print("%s = %s (code %d)", v.Parameter, withUnit(profiles.Row{Value: v.Value, Unit: v.Unit}), v.Code)
		for _, b := range v.Sent {
			c.print("  sent      %s", b)
		}
		for _, b := range v.Received {
			c.print("  received  %s", b)
		}
		switch {
		case v.Failed != "":
		case len(v.Received) == 0:
			c.print("  nothing came back; listen whether it did what was meant")
		case v.Holds != nil && *v.Holds == v.Code:
			c.print("  the device says that it holds code %d", *v.Holds)
		case v.Holds != nil:
			c.print("  the device says that it holds code %d, not %d: is the scale or the order of bytes another?", *v.Holds, v.Code)
		}
	}
	return nil
}
