package cli

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/library/exchange"
	"echowright/midi/port"
	"echowright/midi/port/fileport"
	"echowright/midi/port/traceport"
	"echowright/midi/transfer"
	"echowright/profiles"
)

// targetFlags say which device is meant: a rig, or a device on a port for once.
type targetFlags struct {
	rig, device, port string
	unit              unitFlags
	trace             string
}

func (f *targetFlags) add(c *call, cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.StringVar(&f.rig, "rig", "", "`name` of the rig")
	flags.StringVar(&f.device, "device", "", "in place of --rig: `name` or file of the device profile …")
	flags.StringVar(&f.port, "port", "", "… and the `port` it is on …")
	f.unit.add(cmd, "… and ")
	flags.StringVar(&f.trace, "trace", "", traceHelp)
	_ = cmd.RegisterFlagCompletionFunc("rig", func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return c.rigNames(), cobra.ShellCompDirectiveNoFileComp
	})
	_ = cmd.RegisterFlagCompletionFunc("device", c.completeDeviceFlag)
	_ = cmd.RegisterFlagCompletionFunc("port", completePort)
}

// A target is a device on a port that nobody has opened yet.
type target struct {
	address
	port  string // "" for a dry run that names none
	rig   string // "" where none was named
	trace string // file that gets the conversation, "" for none
}

// find works out which device is meant.
func (f *targetFlags) find(c *call, cmd *cobra.Command) (target, error) {
	alone := f.device != "" || f.port != ""
	switch {
	case f.rig != "" && alone:
		return target{}, misuse(cmd, "%s: --rig says device and port already: leave --device and --port out", cmd.Name())
	case f.rig != "":
		return f.ofRig(c, cmd)
	case f.device == "" && dryRun(cmd):
		return target{}, misuse(cmd, "%s: which device? Give --rig or --device", cmd.Name())
	case f.device == "" || f.port == "" && !dryRun(cmd):
		return target{}, misuse(cmd, "%s: which device? Give --rig, or --device and --port", cmd.Name())
	}
	return f.settle(c, cmd, library.Rig{Device: f.device, Port: f.port})
}

func (f *targetFlags) ofRig(c *call, cmd *cobra.Command) (target, error) {
	shelf, err := c.library()
	if err != nil {
		return target{}, err
	}
	e, err := shelf.Rigs.Get(f.rig)
	if err != nil {
		return target{}, brokenInside(err)
	}
	return f.settle(c, cmd, e.Value)
}

func (f *targetFlags) settle(c *call, cmd *cobra.Command, r library.Rig) (target, error) {
	d, err := c.device(r.Device)
	if err != nil {
		return target{}, err
	}
	a, err := f.unit.find(cmd, d, r)
	if err != nil {
		return target{}, err
	}
	t := target{address: a, port: r.Port, rig: r.Name, trace: f.trace}
	if err := t.checkTrace(cmd); err != nil {
		return t, err
	}
	if r.Port != "" || !dryRun(cmd) {
		t.port, err = c.portName(r.Port)
	}
	return t, err
}

// dryRun reports whether a command is to send nothing, so that it needs no port.
func dryRun(cmd *cobra.Command) bool {
	dry, err := cmd.Flags().GetBool("dry-run")
	return err == nil && dry
}

// place is where a device would be sent to: its port, if one is named.
func (t target) place() string {
	if t.port == "" {
		return t.device.Name
	}
	return t.port
}

// writeOnly reports whether the port can be asked nothing.
func (t target) writeOnly() bool { return strings.HasPrefix(t.port, fileport.Scheme+":") }

// replay reports whether the port only says again what a device once said.
func (t target) replay() bool { return strings.HasPrefix(t.port, traceport.Scheme+":") }

// talkAlone is talk for what is kept in the library too: without a lock on the port
// nothing is sent.
func (t target) talkAlone(ctx context.Context, c *call, what string, do func(*exchange.Session) error) error {
	return t.talkLocked(ctx, c, what, true, do)
}

// talk opens the port and lets do have a conversation with the device, unless
// another echowright has one on that port. Where no lock can be had for another
// reason, as in a library that cannot be written to, that is no hindrance.
func (t target) talk(ctx context.Context, c *call, what string, do func(*exchange.Session) error) error {
	return t.talkLocked(ctx, c, what, false, do)
}

func (t target) talkLocked(ctx context.Context, c *call, what string, must bool, do func(*exchange.Session) error) error {
	if err := t.can(what); err != nil {
		return err
	}
	unlock, err := t.lock(ctx, c, what, must)
	if err != nil {
		return err
	}
	defer unlock()
	return t.converse(ctx, c, what, do)
}

// lock takes the target's port for this run alone. Where no lock can be had that
// nobody else has, it is only an error if it must be had.
func (t target) lock(ctx context.Context, c *call, what string, must bool) (unlock func(), err error) {
	shelf, err := c.library()
	if err != nil {
		return nil, err
	}
	unlock, err = lockPort(ctx, shelf, t.port)
	var locked *library.PortLockedError
	switch {
	case err == nil:
		return unlock, nil
	case must || errors.As(err, &locked) || ctx.Err() != nil:
		return nil, fmt.Errorf("%s: %w; nothing was sent", what, err)
	}
	return func() {}, nil
}

// converse is talk for whoever has the lock of the port.
func (t target) converse(ctx context.Context, c *call, what string, do func(*exchange.Session) error) error {
	if err := t.can(what); err != nil {
		return err
	}
	p, trace, err := t.open(ctx, c)
	if err != nil {
		return err
	}
	defer trace.end(c)
	manners := t.manners()
	manners.Trace, manners.Again = trace.remark, func(what, why string) { c.say("step %q: %s, sent again", what, why) }
	link := transfer.Open(p, manners)
	defer link.Close()
	progress := c.talk.Progress(what, c.Now)
	defer progress.End()
	session, err := t.session(c, link, progress)
	if err != nil {
		return err
	}
	if t.replay() {
		aside, remove, err := c.aside()
		if err != nil {
			return err
		}
		defer remove()
		session.Aside = aside
	}
	return do(session)
}

// open opens the port, and the trace of what will pass over it.
func (t target) open(ctx context.Context, c *call) (port.Port, *tracing, error) {
	trace, err := c.startTrace(t)
	if err != nil {
		return nil, nil, err
	}
	p, err := c.Ports.Open(ctx, t.port)
	if err != nil {
		trace.discard()
		return nil, nil, err
	}
	return trace.over(p), trace, nil
}

// link is the port with the device's manners; note, if not nil, is told what passes.
func (t target) link(p port.Port, note func(transfer.TraceEvent)) *transfer.Link {
	manners := t.manners()
	manners.Trace = note
	return transfer.Open(p, manners)
}

// manners are the device's on the line.
func (t target) manners() transfer.Options {
	m := t.device.Manners
	return transfer.Options{Name: t.port, Piece: m.Buffer / 2, Retries: m.Retries, BusyTotal: busyTotal(m)}
}

// busyTotal is how long a device that says that it is busy is waited for: for four of
// its writes to memory, and never less than five seconds (common practice, no source).
func busyTotal(m profiles.Manners) time.Duration {
	return max(5*time.Second, 4*m.Flash)
}

func (t target) session(c *call, link *transfer.Link, progress *ui.Progress) (*exchange.Session, error) {
	shelf, err := c.library()
	if err != nil {
		return nil, err
	}
	return &exchange.Session{
		Device: t.device, Unit: t.unit, Channel: t.channel, Rig: t.rig, Port: t.port, Link: link, Shelf: shelf, Now: c.Now,
		Progress: func(done, of int) { progress.Set(float64(done) / float64(of)) },
		Warn:     c.alarm,
	}, nil
}
