package cli

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/midi/port/netport"
	"echowright/midi/port/rawport"
	"echowright/preset/nearest"
	"echowright/profiles/emulator"
)

type emulateOptions struct {
	port      string
	unit      int
	channel   int
	protected bool
	usb       bool
	keep      string // file of its memory, "" for none
	faults    []string
}

const emulateLong = `Serve a device's firmware, written from its manual, until Ctrl-C. It starts with
its factory memory and forgets everything when it ends, or keeps its memory in the
file of --keep and starts with that.

Where: pty (a new pseudo-terminal, whose path is printed), pty:LINK (the same,
and LINK points to it meanwhile), unix:PATH or tcp:HOST:PORT (one caller after
another), raw:PATH (a raw MIDI device or a terminal that is there, with the others
at its far end: if that is pulled out, it waits until it is back).`

func newEmulateCommand(c *call) *cobra.Command {
	o := emulateOptions{port: ptyScheme}
	cmd := &cobra.Command{
		Use:   "emulate DEVICE",
		Short: "Be a device, for others to talk to",
		Long:  emulateLong + faultsHelp(),
		Example: "  echowright emulate five-line --port pty:delay &\n" +
			"  echowright read --device five-line --port raw:delay --slot 0",
		Args: takes("DEVICE"),
		ValidArgsFunction: func(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			return firstOnly(args, emulator.Names()...), cobra.ShellCompDirectiveNoFileComp
		},
		RunE: func(cmd *cobra.Command, args []string) error { return runEmulate(cmd.Context(), c, args[0], o) },
	}
	flags := cmd.Flags()
	flags.StringVar(&o.port, "port", o.port, "`where` to be reached: pty, pty:LINK, unix:PATH, tcp:HOST:PORT, raw:PATH")
	flags.IntVar(&o.unit, "unit", 0, "unit `number` it is set to, 0 to 15")
	flags.IntVar(&o.channel, "channel", 1, "`channel` it is set to, 1 to 16")
	flags.BoolVar(&o.protected, "protected", false, "with its memory write-protected")
	flags.BoolVar(&o.usb, "usb", false, "at a USB cable: the tap-loop unit then wants 1 ms of silence after each message")
	flags.StringVar(&o.keep, "keep", "", "`file` that keeps its memory; it is made where there is none")
	flags.StringArrayVar(&o.faults, "fault", nil, "`NAME[=N]`: a fault to have, see above; may be given again")
	_ = cmd.RegisterFlagCompletionFunc("fault", cobra.FixedCompletions(faultForms(), cobra.ShellCompDirectiveNoFileComp)) // errs for a flag that is not there
	return cmd
}

// faultsHelp is the emulator's table of faults.
func faultsHelp() string {
	text := "\n\nFaults to order, by a --fault each; of events that are counted, one without N befalls all:\n"
	for _, k := range emulator.FaultKinds() {
		text += fmt.Sprintf("\n  %-20s%s", k.Form(), k.Means)
	}
	return text
}

// faultForms are the shells' proposals.
func faultForms() []string {
	var forms []string
	for _, k := range emulator.FaultKinds() {
		forms = append(forms, k.Name+"\t"+k.Means)
	}
	return forms
}

const ptyScheme = "pty"

func runEmulate(ctx context.Context, c *call, name string, o emulateOptions) error {
	ctx, fail := context.WithCancelCause(ctx)
	defer fail(nil)
	scheme, address, _ := strings.Cut(o.port, ":")
	serve := c.servers()[scheme]
	if serve == nil || address == "" && scheme != ptyScheme {
		return misused(fmt.Errorf("--port %q: write pty, pty:LINK, unix:PATH, tcp:HOST:PORT or raw:PATH", o.port))
	}
	var faults emulator.Faults
	for _, text := range o.faults {
		if err := faults.Order(text); err != nil {
			return misused(fmt.Errorf("--fault: %w", err))
		}
	}
	d, err := newEmulator(name, emulator.Options{
		Unit: o.unit, Channel: o.channel, WriteProtected: o.protected, USB: o.usb, RealTime: true, Faults: faults,
		Written: func(image []byte) {
			if err := saveMemory(o.keep, image); err != nil {
				fail(err)
			}
		},
	})
	if err != nil {
		return err
	}
	if err := fillMemory(o.keep, d); err != nil {
		return err
	}
	err = serve(ctx, d, address)
	var unsaved *unsavedError
	if errors.As(context.Cause(ctx), &unsaved) {
		return unsaved
	}
	return errors.Join(err, saveMemory(o.keep, d.Image()))
}

// A server serves a device at an address until ctx ends.
type server func(ctx context.Context, d *emulator.Unit, address string) error

// servers are the ways of being reached, by the scheme of --port.
func (c *call) servers() map[string]server {
	return map[string]server{
		ptyScheme:          c.emulateTerminal,
		rawport.Scheme:     c.emulateRaw,
		netport.UnixScheme: c.emulateSocket(netport.UnixScheme),
		netport.TCPScheme:  c.emulateSocket(netport.TCPScheme),
	}
}

func newEmulator(name string, o emulator.Options) (*emulator.Unit, error) {
	d, err := emulator.New(name, o)
	if near := nearest.Name(name, emulator.Names()); err != nil && near != "" && near != name {
		return nil, fmt.Errorf("no emulator for %q: did you mean %q?", name, near)
	}
	return d, err
}

// announce says by which port others reach the device.
func (c *call) announce(d *emulator.Unit, path, portName string) error {
	c.say("%s is listening; another terminal reaches it by --port %s. Ctrl-C ends it.", d.Name(), portName)
	return c.printPlace(d, path, portName)
}

// printPlace is the result: the path alone, so that a script can take it from there.
func (c *call) printPlace(d *emulator.Unit, path, portName string) error {
	if c.json {
		return ui.JSON(c.out, map[string]string{"device": d.Name(), "path": path, "port": portName})
	}
	_, err := fmt.Fprintln(c.out, path)
	return err
}
