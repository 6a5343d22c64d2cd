package ptyport

import (
	"errors"
	"fmt"
	"os"

	"golang.org/x/sys/unix"

	"echowright/midi/port"
)

const multiplexer = "/dev/ptmx"

// Open makes a new pseudo terminal in raw mode.
func Open() (*Terminal, error) {
	master, err := os.OpenFile(multiplexer, os.O_RDWR|unix.O_NONBLOCK|unix.O_NOCTTY, 0)
	if err != nil {
		return nil, openError(err)
	}
	path, err := unlock(master)
	if err != nil {
		_ = master.Close()
		return nil, openError(err)
	}
	return &Terminal{Port: port.Stream("pty:"+path, master, explain), path: path}, nil
}

func openError(err error) error {
	return &port.Error{Port: "pty", Doing: "opening", Err: err, Next: "is /dev/pts mounted, and are there terminals left?"}
}

// unlock lets the terminal side be opened, puts it into raw mode, and says its
// path. The settings asked for on the master are those of the terminal.
func unlock(master *os.File) (path string, err error) {
	raw, err := master.SyscallConn()
	if err != nil {
		return "", err
	}
	var failed error
	err = raw.Control(func(fd uintptr) {
		failed = errors.Join(
			unix.IoctlSetPointerInt(int(fd), unix.TIOCSPTLCK, 0),
			setRaw(int(fd)),
		)
		var number uint32
		if failed == nil {
			number, failed = unix.IoctlGetUint32(int(fd), unix.TIOCGPTN)
		}
		path = fmt.Sprintf("/dev/pts/%d", number)
	})
	return path, errors.Join(err, failed)
}

// setRaw turns off everything that a terminal does to its bytes: without it,
// what is sent before the other side has opened the path would come back as echo.
func setRaw(fd int) error {
	t, err := unix.IoctlGetTermios(fd, unix.TCGETS)
	if err != nil {
		return err
	}
	t.Iflag, t.Oflag, t.Lflag = 0, 0, 0
	t.Cflag |= unix.CS8 | unix.CREAD | unix.CLOCAL
	t.Cc[unix.VMIN], t.Cc[unix.VTIME] = 1, 0
	return unix.IoctlSetTermios(fd, unix.TCSETS, t)
}

// Stay keeps the line up when its user closes the path, so that the next one may
// come: a device does not go away because nobody is talking to it. Receive then
// never says that the other side went away.
func (t *Terminal) Stay() error {
	if t.held != nil {
		return nil
	}
	side, err := os.OpenFile(t.path, os.O_RDWR|unix.O_NOCTTY|unix.O_NONBLOCK, 0)
	if err != nil {
		return &port.Error{Port: "pty:" + t.path, Doing: "opening", Err: err}
	}
	t.held = side.Close
	return nil
}

func explain(err error) error {
	if errors.Is(err, unix.EIO) {
		return fmt.Errorf("%w (%w)", port.ErrGone, unix.EIO)
	}
	return err
}
