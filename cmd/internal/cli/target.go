package cli

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library/exchange"
	"echowright/midi/port"
	"echowright/midi/port/fileport"
	"echowright/midi/transfer"
	"echowright/profiles"
)

// targetFlags say which device is meant: a rig, or a device on a port for once.
type targetFlags struct {
	rig, device, port string
	unit              int
}

func (f *targetFlags) add(c *call, cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.StringVar(&f.rig, "rig", "", "`name` of the rig")
	flags.StringVar(&f.device, "device", "", "in place of --rig: `name` or file of the device profile …")
	flags.StringVar(&f.port, "port", "", "… and the `port` it is on …")
	flags.IntVar(&f.unit, "unit", 0, "… and the unit `number` that is set on it")
	_ = cmd.RegisterFlagCompletionFunc("rig", func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return c.rigNames(), cobra.ShellCompDirectiveNoFileComp
	})
	_ = cmd.RegisterFlagCompletionFunc("device", c.completeDeviceFlag)
	_ = cmd.RegisterFlagCompletionFunc("port", completePort)
}

// A target is a device on a port that nobody has opened yet.
type target struct {
	device *profiles.Device
	port   string
	unit   int
}

// find works out which device is meant.
func (f *targetFlags) find(c *call, cmd *cobra.Command) (target, error) {
	alone := f.device != "" || f.port != ""
	switch {
	case f.rig != "" && alone:
		return target{}, misuse(cmd, "%s: --rig says device and port already: leave --device and --port out", cmd.Name())
	case f.rig != "":
		return f.ofRig(c, cmd)
	case f.device == "" || f.port == "":
		return target{}, misuse(cmd, "%s: which device? Give --rig, or --device and --port", cmd.Name())
	}
	return f.settle(c, cmd, f.device, f.port, nil)
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
	return f.settle(c, cmd, e.Value.Device, e.Value.Port, e.Value.Unit)
}

func (f *targetFlags) settle(c *call, cmd *cobra.Command, device, port string, unit *int) (target, error) {
	d, err := c.device(device)
	if err != nil {
		return target{}, err
	}
	t := target{device: d, port: port, unit: d.Manners.FirstUnit}
	if unit != nil {
		t.unit = *unit
	}
	if cmd.Flags().Changed("unit") {
		t.unit = f.unit
	}
	if err := d.CheckUnit(t.unit); err != nil {
		return t, misused(err)
	}
	return t, misused(c.checkPortName(port))
}

// writeOnly reports whether the port can be asked nothing.
func (t target) writeOnly() bool { return strings.HasPrefix(t.port, fileport.Scheme+":") }

// talk opens the port and lets do have a conversation with the device.
func (t target) talk(ctx context.Context, c *call, what string, do func(*exchange.Session) error) error {
	if t.writeOnly() {
		return misused(fmt.Errorf("port %s: a file answers nothing, and %s needs answers: name the port that the device is on", t.port, what))
	}
	if err := t.converses(what); err != nil {
		return err
	}
	p, err := c.Ports.Open(ctx, t.port)
	if err != nil {
		return err
	}
	link := t.link(p)
	defer link.Close()
	progress := c.talk.Progress(what, c.Now)
	defer progress.End()
	session, err := t.session(c, link, progress)
	if err != nil {
		return err
	}
	return do(session)
}

// link is the port with the device's manners.
func (t target) link(p port.Port) *transfer.Link { return t.traced(p, nil) }

// traced is link that tells note, if not nil, what passes.
func (t target) traced(p port.Port, note func(transfer.TraceEvent)) *transfer.Link {
	return transfer.Open(p, transfer.Options{
		Name: t.port, Piece: t.device.Manners.Buffer / 2, Retries: t.device.Manners.Retries, Trace: note,
	})
}

func (t target) session(c *call, link *transfer.Link, progress *ui.Progress) (*exchange.Session, error) {
	shelf, err := c.library()
	if err != nil {
		return nil, err
	}
	return &exchange.Session{
		Device: t.device, Unit: t.unit, Port: t.port, Link: link, Shelf: shelf, Now: c.Now,
		Progress: func(done, of int) { progress.Set(float64(done) / float64(of)) },
		Warn:     c.warn,
	}, nil
}
