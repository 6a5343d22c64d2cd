package cli

import (
	"context"
	"os"
	"slices"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/midi/port"
	"echowright/midi/port/osport"
	"echowright/midi/port/ports"
	"echowright/profiles/emulator"
)

const portsLong = `List the ports that are there, and what was looked for in vain.

A port is named raw:PATH (a raw MIDI device, or a terminal device such as a
pseudo-terminal), os:NAME (a port of the system's MIDI, where this build has them;
a part of the name is enough if it fits no other), unix:PATH or tcp:HOST:PORT (byte
streams), emulator:NAME (a device in this same process, fresh from the factory at
each run), trace:FILE (the device's side of a recorded conversation) or
file:PATH.syx (write only).

With --identify, each port found is asked who is there: who answers, and which
device profile states that identity. A port that another program has is left alone.`

func newPortsCommand(c *call) *cobra.Command {
	var identify bool
	cmd := &cobra.Command{
		Use:     "ports",
		Short:   "List the ports that devices can be on",
		Long:    portsLong,
		Example: "  echowright ports\n  echowright ports --identify --json",
		Args:    takes(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if identify {
				return runIdentify(cmd.Context(), c, allDrivers())
			}
			return runPorts(c, allDrivers())
		},
	}
	cmd.Flags().BoolVar(&identify, "identify", false, "ask each port who is there")
	return cmd
}

// allDrivers looks for every kind of port that can be looked for.
func allDrivers() []ports.Driver {
	return append(ports.List(os.DirFS("/"), osport.List), emulatorDriver())
}

func runPorts(c *call, drivers []ports.Driver) error {
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
	c.saySkipped(drivers)
	return nil
}

// saySkipped tells which kinds of port could not be looked for, and why.
func (c *call) saySkipped(drivers []ports.Driver) {
	for _, d := range drivers {
		if d.Skipped != "" {
			c.say("%s: %s", d.Name, d.Skipped)
		}
	}
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
	for _, d := range allDrivers() {
		for _, p := range d.Found {
			names = append(names, p.Port)
		}
	}
	slices.Sort(names)
	return names, cobra.ShellCompDirectiveNoFileComp
}
