//go:build cgo && (osmidi || darwin || windows)

package osport

import (
	"errors"
	"fmt"
	"runtime"
	"slices"

	"gitlab.com/gomidi/midi/v2/drivers/rtmididrv/imported/rtmidi"

	"echowright/midi/port"
)

// The binding is the one that rtmididrv gives as Underlying. It is used by
// itself because importing the driver would register it in a table of its
// library, and because the driver's own reader of messages panics at a SysEx
// longer than its buffer. Its error texts are read from freed memory: they are
// not shown; what the C++ part prints to the terminal when the system refuses
// something cannot be helped.

const (
	client  = "echowright" // how other programs see us
	waiting = 4096         // messages that the library keeps until they are taken
)

// alsaPiece is how long a piece of SysEx is that ALSA's side of the library
// passes on as it comes: the size of its buffer until something longer is sent.
// Whole messages would do too, but a long one would be given to the kernel faster
// than it can pass it on, and be cut.
const alsaPiece = 32

type ends struct {
	in  rtmidi.MIDIIn  // nil if it is deaf
	out rtmidi.MIDIOut // nil if it is dumb

	list   rtmidi.MIDI // not opened, asked for names only
	listed string      // the name that is looked for there
}

// look gives the names of all ends.
func look() (ins, outs []string, err error) {
	if err := ready(); err != nil {
		return nil, nil, err
	}
	in, err := newIn()
	if err != nil {
		return nil, nil, err
	}
	defer in.Close()
	out, err := newOut()
	if err != nil {
		return nil, nil, err
	}
	defer out.Close()
	if ins, err = names(in); err != nil {
		return nil, nil, err
	}
	outs, err = names(out)
	return ins, outs, err
}

func newIn() (rtmidi.MIDIIn, error) {
	in, err := rtmidi.NewMIDIIn(rtmidi.APIUnspecified, client, waiting)
	if err != nil {
		return nil, errNoSystem
	}
	return in, nil
}

func newOut() (rtmidi.MIDIOut, error) {
	out, err := rtmidi.NewMIDIOut(rtmidi.APIUnspecified, client)
	if err != nil {
		return nil, errNoSystem
	}
	return out, nil
}

var (
	errNoSystem = errors.New("the system's MIDI does not answer")
	errTooLong  = errors.New("a message longer than 64 KiB came")
)

func names(m rtmidi.MIDI) ([]string, error) {
	n, err := m.PortCount()
	if err != nil {
		return nil, errNoSystem
	}
	all := make([]string, n)
	for i := range all {
		if all[i], err = m.PortName(i); err != nil {
			return nil, errNoSystem
		}
	}
	return all, nil
}

// connect opens the ends with these names, one of which may be "".
func connect(in, out string) (wire, error) {
	e := &ends{}
	if err := e.open(in, out); err != nil {
		_ = e.end()
		return nil, err
	}
	return e, nil
}

func (e *ends) open(in, out string) (err error) {
	if out != "" {
		if e.out, err = newOut(); err != nil {
			return err
		}
		if err := openNamed(e.out, out); err != nil {
			return err
		}
		e.listed = out
		if e.list, err = newOut(); err != nil {
			return err
		}
	}
	if in == "" {
		return nil
	}
	if e.in, err = newIn(); err != nil {
		return err
	}
	if err := e.in.IgnoreTypes(false, false, false); err != nil {
		return errNoSystem
	}
	if err := openNamed(e.in, in); err != nil {
		return err
	}
	if e.list == nil {
		e.listed = in
		e.list, err = newIn()
	}
	return err
}

// openNamed looks for the name at the last moment: a number that was found
// earlier may be another port's by now, were it because of what we opened.
func openNamed(m rtmidi.MIDI, name string) error {
	all, err := names(m)
	if err != nil {
		return err
	}
	i := slices.Index(all, name)
	if i < 0 {
		return port.ErrNotThere
	}
	if err := m.OpenPort(i, client); err != nil {
		return errRefused
	}
	return nil
}

var errRefused = &problem{
	errors.New("the system will not connect to it"),
	"another program may have the device by itself (raw:): close that, or wait until it is done",
}

func (e *ends) there() bool {
	all, err := names(e.list)
	if err != nil {
		return false
	}
	return slices.Contains(all, e.listed)
}

func (e *ends) hears() bool  { return e.in != nil }
func (e *ends) speaks() bool { return e.out != nil }

func (e *ends) piece() int {
	if runtime.GOOS == "linux" {
		return alsaPiece
	}
	return 0
}

// take asks for the next message. The binding panics at a longer one than it has
// room for.
func (e *ends) take() (b []byte, err error) {
	defer func() {
		if recover() != nil {
			b, err = nil, errTooLong
		}
	}()
	b, _, err = e.in.Message()
	if err != nil {
		return nil, errNoSystem
	}
	return b, nil
}

func (e *ends) give(message []byte) error {
	if err := e.out.SendMessage(message); err != nil {
		return fmt.Errorf("the system does not take a message of %d bytes", len(message))
	}
	return nil
}

func (e *ends) end() error {
	var failed error
	if e.in != nil {
		failed = errors.Join(failed, e.in.Close())
	}
	if e.out != nil {
		failed = errors.Join(failed, e.out.Close())
	}
	if e.list != nil {
		failed = errors.Join(failed, e.list.Close())
	}
	if failed != nil {
		return errNoSystem
	}
	return nil
}
