//go:build cgo && osmidi

package osport

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"echowright/midi/port"
)

// sequencer is the device that ALSA's library opens. It is looked at first,
// because that library and the one above it print to the terminal and answer
// with garbage where it is missing.
const sequencer = "/dev/snd/seq"

func ready() error {
	f, err := os.OpenFile(sequencer, os.O_RDWR, 0)
	switch {
	case err == nil:
		return f.Close()
	case errors.Is(err, fs.ErrNotExist):
		return &problem{fmt.Errorf("there is no %s: %w", sequencer, port.ErrNotThere), "load the kernel's module: sudo modprobe snd-seq"}
	case errors.Is(err, fs.ErrPermission):
		return &problem{fmt.Errorf("%s: %w", sequencer, port.ErrDenied), "on most systems the group audio may use it: sudo usermod -aG audio $USER, then log in again"}
	}
	return err
}
