package cli

import (
	"context"
	"io/fs"
	"os"
	"slices"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/midi/port"
	"echowright/midi/port/ports"
	"echowright/profiles/emulator"
)

func newPortsCommand(c *call) *cobra.Command {
	return &cobra.Command{
		Use:   "ports",
		Short: "List the ports that devices can be on",
		Long: `List the ports that are there, and what was looked for in vain.

A port is named emulator:NAME (a device in this same process, fresh from the
factory at each run), raw:PATH (a raw MIDI device, or a terminal device such as a
pseudo-terminal), unix:PATH or tcp:HOST:PORT (byte streams), or file:PATH.syx
(write only).`,
		Example: "  echowright ports --json",
		Args:    takes(),
		RunE:    func(*cobra.Command, []string) error { return runPorts(c, os.DirFS("/")) },
	}
}

func runPorts(c *call, root fs.FS) error {
	drivers := append(ports.List(root), emulatorDriver())
	if c.json {
		return ui.JSON(c.out, map[string]any{"driver": drivers})
	}
	t := ui.Table{Titles: []string{"port", "what"}}
	for _, d := range drivers {
		for _, p := range d.Found {
			t.Add(p.Port, p.Says)
		}
	}
	t.Print(c.out)
	for _, d := range drivers {
		if d.Skipped != "" {
			c.say("%s: %s", d.Name, d.Skipped)
		}
	}
	return nil
}

const emulatorScheme = "emulator"

func emulatorDriver() ports.Driver {
	d := ports.Driver{Name: emulatorScheme}
	for _, name := range emulator.Names() {
		d.Found = append(d.Found, ports.Device{Port: emulatorScheme + ":" + name, Says: "emulator in the same process, fresh at each run"})
	}
	return d
}

// Ports are the ports of the system, and the emulators in the same process.
func Ports() ports.Openers {
	all := ports.Builtin()
	all[emulatorScheme] = openEmulator
	return all
}

// openEmulator serves a new device at the other end of a pipe until the port is
// closed or ctx ends.
func openEmulator(ctx context.Context, name string) (port.Port, error) {
	d, err := newEmulator(name, emulator.Options{RealTime: true})
	if err != nil {
		return nil, err
	}
	near, far := port.Pipe(emulatorScheme + ":" + name)
	go func() {
		defer far.Close()
		_ = emulator.Serve(ctx, far, d) // it ends when the near end is closed
	}()
	return near, nil
}

// completePort offers the ports that are there.
func completePort(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	var names []string
	for _, d := range append(ports.List(os.DirFS("/")), emulatorDriver()) {
		for _, p := range d.Found {
			names = append(names, p.Port)
		}
	}
	slices.Sort(names)
	return names, cobra.ShellCompDirectiveNoFileComp
}
