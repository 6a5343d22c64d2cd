package cli

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"strings"
	"time"

	"echowright/midi/port"
	"echowright/midi/port/netport"
	"echowright/midi/port/ptyport"
	"echowright/midi/port/rawport"
	"echowright/profiles/emulator"
)

// emulateTerminal serves a new pseudo-terminal; link, if not "", points to it
// as long as it is there.
func (c *call) emulateTerminal(ctx context.Context, d *emulator.Unit, link string) error {
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
		removeStale(link)
		if err := os.Symlink(path, link); err != nil {
			return fmt.Errorf("link %s: %w; choose another name, or remove what stands there", link, errors.Unwrap(err))
		}
		defer removeLink(link, path)
		path = link
	}
	if err := c.announce(d, path, rawport.Scheme+":"+path); err != nil {
		return err
	}
	return emulator.Serve(ctx, terminal, d)
}

// terminals is where Linux has its pseudo-terminals: pts(4).
const terminals = "/dev/pts/"

// removeStale takes a link away that an emulator left behind which was killed: one
// to a terminal that is gone. Everything else stays.
func removeStale(link string) {
	to, err := os.Readlink(link)
	if err != nil || !strings.HasPrefix(to, terminals) {
		return
	}
	if _, err := os.Stat(to); errors.Is(err, fs.ErrNotExist) {
		_ = os.Remove(link) // or the next link says why not
	}
}

// removeLink takes the link away if it is still ours.
func removeLink(link, path string) {
	if to, err := os.Readlink(link); err == nil && to == path {
		_ = os.Remove(link)
	}
}

// emulateSocket serves one caller after another.
func (c *call) emulateSocket(network string) server {
	return func(ctx context.Context, d *emulator.Unit, address string) error {
		var config net.ListenConfig
		listener, err := config.Listen(ctx, network, address)
		if err != nil {
			return fmt.Errorf("port %s:%s: listening: %w; choose another one, or end what has it", network, address, err)
		}
		defer listener.Close()
		stop := context.AfterFunc(ctx, func() { listener.Close() })
		defer stop()
		where := network + ":" + listener.Addr().String()
		if err := c.announce(d, listener.Addr().String(), where); err != nil {
			return err
		}
		return serveCallers(ctx, where, listener, d)
	}
}

func serveCallers(ctx context.Context, where string, listener net.Listener, d *emulator.Unit) error {
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

// replugged is how often a device that went away is looked for.
const replugged = 200 * time.Millisecond

// emulateRaw serves a raw MIDI device, or a terminal, that is there already. When
// its other side goes away, as a cable that is pulled, it waits until it is back.
func (c *call) emulateRaw(ctx context.Context, d *emulator.Unit, path string) error {
	p, err := rawport.Open(ctx, path)
	if err != nil {
		return err
	}
	c.say("%s is listening at this end of %s. Ctrl-C ends it.", d.Name(), path)
	if err := c.printPlace(d, path, rawport.Scheme+":"+path); err != nil {
		p.Close()
		return err
	}
	for {
		err := emulator.Serve(ctx, p, d)
		p.Close()
		if !errors.Is(err, port.ErrGone) {
			return err
		}
		c.say("%s: the other side went away; waiting until it is back. Ctrl-C ends it.", path)
		if p = awaitDevice(ctx, path); p == nil {
			return nil
		}
		c.say("%s: it is back.", path)
	}
}

// awaitDevice opens a device as soon as it can be opened; nil where ctx ends first.
func awaitDevice(ctx context.Context, path string) port.Port {
	look := time.NewTicker(replugged)
	defer look.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-look.C:
		}
		if p, err := rawport.Open(ctx, path); err == nil {
			return p
		}
	}
}
