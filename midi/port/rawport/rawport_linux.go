package rawport

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"

	"golang.org/x/sys/unix"

	"echowright/midi/port"
)

func open(name, path string) (port.Port, error) {
	// Non-blocking, or a device that another program has would let us wait for
	// it, and a serial line for its carrier.
	f, err := os.OpenFile(path, os.O_RDWR|unix.O_NONBLOCK|unix.O_NOCTTY, 0)
	if err != nil {
		return nil, openError(name, err)
	}
	d := &device{File: f}
	if err := d.take(); err != nil {
		_ = f.Close()
		return nil, openError(name, err)
	}
	return port.Stream(name, d, explain), nil
}

// device is the open file and what to put back when it is closed.
type device struct {
	*os.File
	before *unix.Termios // nil if it is no terminal
}

// Read says unix.ENODEV once the device was pulled out. The runtime's poller hears
// of that too, sometimes first, and from then on has a word of its own ("not
// pollable") that nobody can tell from others: the kernel is asked.
func (d *device) Read(b []byte) (int, error) {
	n, err := d.File.Read(b)
	known := err == nil || errors.Is(err, os.ErrDeadlineExceeded) || errors.Is(err, fs.ErrClosed) || errors.Is(err, io.EOF)
	if !known && d.hungUp() {
		return n, unix.ENODEV
	}
	return n, err
}

// hungUp asks the kernel whether the other side is gone.
func (d *device) hungUp() bool {
	state := []unix.PollFd{{Events: unix.POLLIN}}
	err := d.control(func(fd int) error {
		state[0].Fd = int32(fd)
		_, err := unix.Poll(state, 0)
		return err
	})
	return err == nil && state[0].Revents&(unix.POLLERR|unix.POLLHUP) != 0
}

func (d *device) take() error {
	info, err := d.Stat()
	if err != nil {
		return err
	}
	if info.Mode()&fs.ModeCharDevice == 0 {
		return fmt.Errorf("%w: it is no device but %s", port.ErrNotThere, describe(info.Mode()))
	}
	return d.control(func(fd int) error {
		if err := unix.Flock(fd, unix.LOCK_EX|unix.LOCK_NB); err != nil {
			return err
		}
		settings, err := unix.IoctlGetTermios(fd, unix.TCGETS)
		if err != nil { // no terminal: a raw MIDI device
			return nil
		}
		before := *settings
		d.before = &before
		makeRaw(settings)
		if err := unix.IoctlSetTermios(fd, unix.TCSETS, settings); err != nil {
			return err
		}
		// What came for the user before us is not ours.
		return unix.IoctlSetInt(fd, unix.TCFLSH, unix.TCIFLUSH)
	})
}

// Close puts the terminal's settings back first; on a line whose other end is
// gone that fails, and is of no use either.
func (d *device) Close() error {
	if d.before != nil {
		_ = d.control(func(fd int) error { return unix.IoctlSetTermios(fd, unix.TCSETS, d.before) })
	}
	return d.File.Close()
}

// control runs f on the descriptor without taking the file out of the poller.
func (d *device) control(f func(fd int) error) error {
	raw, err := d.SyscallConn()
	if err != nil {
		return err
	}
	var failed error
	if err := raw.Control(func(fd uintptr) { failed = f(int(fd)) }); err != nil {
		return err
	}
	return failed
}

// makeRaw lets all 8 bits of every byte through, both ways, unaltered and at
// once, and ignores modem lines (cfmakeraw of termios(3), with CLOCAL).
func makeRaw(t *unix.Termios) {
	t.Iflag &^= unix.IGNBRK | unix.BRKINT | unix.PARMRK | unix.ISTRIP | unix.INLCR | unix.IGNCR | unix.ICRNL | unix.IXON | unix.IXOFF
	t.Oflag &^= unix.OPOST
	t.Lflag &^= unix.ECHO | unix.ECHONL | unix.ICANON | unix.ISIG | unix.IEXTEN
	t.Cflag &^= unix.CSIZE | unix.PARENB
	t.Cflag |= unix.CS8 | unix.CLOCAL | unix.CREAD
	t.Cc[unix.VMIN], t.Cc[unix.VTIME] = 1, 0
}

func describe(mode fs.FileMode) string {
	switch {
	case mode.IsDir():
		return "a folder"
	case mode.IsRegular():
		return "a plain file"
	case mode&fs.ModeSocket != 0:
		return "a socket"
	case mode&fs.ModeNamedPipe != 0:
		return "a named pipe"
	}
	return "something else"
}

func openError(name string, err error) error {
	out := &port.Error{Port: name, Doing: "opening", Err: err}
	var path *fs.PathError
	if errors.As(err, &path) {
		err, out.Err = path.Err, path.Err
	}
	for _, k := range openKinds {
		if errors.Is(err, k.is) {
			out.Next = k.next
			if !errors.Is(err, k.kind) {
				out.Err = fmt.Errorf("%w (%w)", k.kind, err)
			}
			return out
		}
	}
	return out
}

// openKinds is what the kernel says when a device cannot be opened, and what
// that means for whoever wants it.
var openKinds = []struct {
	is, kind error
	next     string
}{
	{unix.ENOENT, port.ErrNotThere, "is it plugged in and switched on? echowright ports lists what is there"},
	{unix.ENOTDIR, port.ErrNotThere, "look at the path again; echowright ports lists what is there"},
	{unix.ENODEV, port.ErrNotThere, "the name is there, but nothing is behind it; plug it in again"},
	{unix.ENXIO, port.ErrNotThere, "the name is there, but nothing is behind it, or nothing that goes both ways; for a socket write unix:PATH"},
	{unix.EIO, port.ErrNotThere, "the name is there, but its other end is closed; start it again"},
	{unix.EISDIR, port.ErrNotThere, "that is a folder; name a device in it"},
	{port.ErrNotThere, port.ErrNotThere, "name a device such as /dev/snd/midiC1D0; file:PATH.syx writes a file, unix:PATH uses a socket"},
	{unix.EBUSY, port.ErrBusy, "close the other program, or wait until it is done"},
	{unix.EWOULDBLOCK, port.ErrBusy, "close the other program, or wait until it is done"},
	{unix.EACCES, port.ErrDenied, "on most systems the group audio (raw MIDI) or dialout (serial lines) may use it: sudo usermod -aG GROUP $USER, then log in again"},
	{unix.EPERM, port.ErrDenied, "ask whoever runs this machine for it"},
}

func explain(err error) error {
	if isGone(err) {
		return fmt.Errorf("%w (%w)", port.ErrGone, err)
	}
	return err
}

// isGone reports whether the kernel says that the device was pulled out: ENODEV
// and EBADFD for raw MIDI, EIO and ENXIO for terminals.
func isGone(err error) bool {
	return slices.ContainsFunc([]error{unix.EIO, unix.ENODEV, unix.ENXIO, unix.EPIPE, unix.EBADFD}, func(gone error) bool { return errors.Is(err, gone) })
}
