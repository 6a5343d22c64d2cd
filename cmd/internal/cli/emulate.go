package cli

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/midi/port"
	"echowright/midi/port/netport"
	"echowright/midi/port/ptyport"
	"echowright/preset/nearest"
	"echowright/profiles/emulator"
)

type emulateOptions struct {
	port      string
	unit      int
	channel   int
	protected bool
}

func newEmulateCommand(c *call) *cobra.Command {
	o := emulateOptions{port: ptyScheme}
	cmd := &cobra.Command{
		Use:   "emulate DEVICE",
		Short: "Be a device, for others to talk to",
		Long: `Serve a device's firmware, written from its manual, until Ctrl-C. It starts with
its factory memory and forgets everything when it ends.

Where: pty (a new pseudo-terminal, whose path is printed), pty:LINK (the same,
and LINK points to it meanwhile), unix:PATH or tcp:HOST:PORT (one caller after
another).`,
		Example: "  echowright emulate five-line --port pty:delay &\n" +
			"  echowright read --device five-line --port raw:delay --slot 0",
		Args: takes("DEVICE"),
		ValidArgsFunction: func(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			return firstOnly(args, emulator.Names()...), cobra.ShellCompDirectiveNoFileComp
		},
		RunE: func(cmd *cobra.Command, args []string) error { return runEmulate(cmd.Context(), c, args[0], o) },
	}
	flags := cmd.Flags()
	flags.StringVar(&o.port, "port", o.port, "`where` to be reached: pty, pty:LINK, unix:PATH, tcp:HOST:PORT")
	flags.IntVar(&o.unit, "unit", 0, "unit `number` it is set to, 0 to 15")
	flags.IntVar(&o.channel, "channel", 1, "`channel` it is set to, 1 to 16")
	flags.BoolVar(&o.protected, "protected", false, "with its memory write-protected")
	return cmd
}

const ptyScheme = "pty"

func runEmulate(ctx context.Context, c *call, name string, o emulateOptions) error {
	d, err := newEmulator(name, emulator.Options{Unit: o.unit, Channel: o.channel, WriteProtected: o.protected, RealTime: true})
	if err != nil {
		return err
	}
	scheme, rest, _ := strings.Cut(o.port, ":")
	switch scheme {
	case ptyScheme:
		return c.emulateTerminal(ctx, name, d, rest)
	case netport.UnixScheme, netport.TCPScheme:
		if rest != "" {
			return c.emulateSocket(ctx, name, d, scheme, rest)
		}
	}
	return misused(fmt.Errorf("--port %q: write pty, pty:LINK, unix:PATH or tcp:HOST:PORT", o.port))
}

func newEmulator(name string, o emulator.Options) (*emulator.Unit, error) {
	d, err := emulator.New(name, o)
	if near := nearest.Name(name, emulator.Names()); err != nil && near != "" && near != name {
		return nil, fmt.Errorf("no emulator for %q: did you mean %q?", name, near)
	}
	return d, err
}

// emulateTerminal serves a new pseudo-terminal; link, if not "", points to it
// as long as it is there.
func (c *call) emulateTerminal(ctx context.Context, name string, d *emulator.Unit, link string) error {
	terminal, err := ptyport.Open()
	if err != nil {
		return err
	}
	defer terminal.Close()
	if err := terminal.Stay(); err != nil {
		return err
	}
	path := terminal.Path()
	if link != "" {
		if err := os.Symlink(path, link); err != nil {
			return fmt.Errorf("link %s: %w; choose another name, or remove what stands there", link, errors.Unwrap(err))
		}
		defer removeLink(link, path)
		path = link
	}
	if err := c.announce(name, path, "raw:"+path); err != nil {
		return err
	}
	return emulator.Serve(ctx, terminal, d)
}

// removeLink takes the link away if it is still ours.
func removeLink(link, path string) {
	if to, err := os.Readlink(link); err == nil && to == path {
		_ = os.Remove(link)
	}
}

func (c *call) emulateSocket(ctx context.Context, name string, d *emulator.Unit, network, address string) error {
	var config net.ListenConfig
	listener, err := config.Listen(ctx, network, address)
	if err != nil {
		return fmt.Errorf("port %s:%s: listening: %w; choose another one, or end what has it", network, address, err)
	}
	defer listener.Close()
	stop := context.AfterFunc(ctx, func() { listener.Close() })
	defer stop()
	where := network + ":" + listener.Addr().String()
	if err := c.announce(name, listener.Addr().String(), where); err != nil {
		return err
	}
	for {
		caller, err := listener.Accept()
		if ctx.Err() != nil {
			return nil
		}
		if err != nil {
			return fmt.Errorf("port %s: waiting for a caller: %w; start it again", where, err)
		}
		if err := serveCaller(ctx, where, caller, d); err != nil {
			return err
		}
	}
}

// serveCaller ends without an error where the caller has gone: the next may come.
func serveCaller(ctx context.Context, where string, caller net.Conn, d *emulator.Unit) error {
	p := netport.New(where, caller)
	defer p.Close()
	err := emulator.Serve(ctx, p, d)
	if errors.Is(err, port.ErrGone) {
		return nil
	}
	return err
}

// announce says where the device is to be reached: the path alone on stdout, so
// that a script can take it from there.
func (c *call) announce(name, path, portName string) error {
	c.say("%s is listening; another terminal reaches it by --port %s. Ctrl-C ends it.", name, portName)
	if c.json {
		return ui.JSON(c.out, map[string]string{"device": name, "path": path, "port": portName})
	}
	_, err := fmt.Fprintln(c.out, path)
	return err
}
