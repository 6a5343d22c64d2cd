package cli

import (
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"echowright/library"
	"echowright/midi"
	"echowright/midi/port"
	"echowright/midi/port/traceport"
	"echowright/midi/transfer"
	"echowright/profiles"
)

const traceHelp = "write the conversation into a `file`, a line a message; a port named trace:FILE plays the device's side of it again"

// checkTrace refuses to write down a conversation that will not be had.
func (t target) checkTrace(cmd *cobra.Command) error {
	if t.trace == "" {
		return nil
	}
	if dryRun(cmd) {
		return misuse(cmd, "%s: --trace and --dry-run: nothing is sent, so there is no conversation to write: leave one of them out", cmd.Name())
	}
	if t.writeOnly() {
		return misuse(cmd, "%s: --trace: a file answers nothing, so there is no conversation to write: leave it out", cmd.Name())
	}
	return nil
}

// A tracing is a trace being written; none at all writes nothing.
type tracing struct {
	file   *os.File
	writer *traceport.Writer
}

// startTrace begins the trace of a target's conversation, nil where none is asked
// for. It writes over no file that is there: that may be the only record of what
// went wrong.
func (c *call) startTrace(t target) (*tracing, error) {
	if t.trace == "" {
		return nil, nil
	}
	file, err := os.OpenFile(t.trace, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if errors.Is(err, fs.ErrExist) {
		return nil, misused(fmt.Errorf("--trace %s: it is there already, and nothing is overwritten: name another file", t.trace))
	}
	if err != nil {
		return nil, fmt.Errorf("--trace: %w; nothing was sent", fileError(t.trace, err))
	}
	return &tracing{file: file, writer: traceport.NewWriter(file, c.Now(), newNaming(t.address).words)}, nil
}

// aside is a library for what a replay of a trace would keep, which may be of
// somebody else's device: it is gone when the replay is over.
func (c *call) aside() (shelf *library.Library, remove func(), err error) {
	folder, err := os.MkdirTemp("", "echowright-replay-")
	if err != nil {
		return nil, nil, fmt.Errorf("a place for what the replay keeps: %w", err)
	}
	remove = func() { _ = os.RemoveAll(folder) } // the system clears what is left there
	if shelf, err = library.Open(folder, c.Now); err != nil {
		remove()
		return nil, nil, err
	}
	c.say("a replay: no device is there, and what would be kept in the library is thrown away at the end")
	return shelf, remove, nil
}

// over is the port with everything that passes over it written down.
func (t *tracing) over(p port.Port) port.Port {
	if t == nil {
		return p
	}
	return t.writer.Port(p)
}

// remark writes down why something is sent again.
func (t *tracing) remark(e transfer.TraceEvent) {
	if t != nil && e.Dir == transfer.Remark {
		t.writer.Remark(e.At, e.Note)
	}
}

// end closes the file. The conversation is over by then: a trace that is not whole
// makes it no worse.
func (t *tracing) end(c *call) {
	if t == nil {
		return
	}
	if err := errors.Join(t.writer.Err(), t.file.Close()); err != nil {
		c.alarm(fmt.Sprintf("the trace %s is not whole: %v", t.file.Name(), err))
		return
	}
	c.say("the conversation is in %s", t.file.Name())
}

// discard takes away a trace in which nothing stands.
func (t *tracing) discard() {
	if t == nil {
		return
	}
	_ = t.file.Close()
	_ = os.Remove(t.file.Name()) // it is only empty
}

// A naming says what messages mean to a device, by the names of its parameters.
type naming struct {
	device         *profiles.Device
	sent, received *interpreter
	steps          map[string]string // what is asked, by the bytes that ask it
}

func newNaming(a address) *naming {
	hear := func() *interpreter { return &interpreter{device: a.device, decoder: a.device.Decoder(a.unit)} }
	n := &naming{device: a.device, sent: hear(), received: hear(), steps: map[string]string{}}
	for slot := a.device.FirstSlot; slot <= a.device.LastSlot; slot++ {
		asking, err := a.device.ReadSlot(a.unit, slot)
		if err != nil {
			continue
		}
		if step, more := asking.Next(); more {
			n.steps[hex.EncodeToString(step.Send)] = step.What
		}
	}
	return n
}

// words is one message in words.
func (n *naming) words(sent bool, message []byte) string {
	if what, known := n.steps[hex.EncodeToString(message)]; sent && known {
		return what
	}
	in := n.received
	if sent {
		in = n.sent
	}
	var all []string
	for _, v := range in.means(message) {
		all = append(all, v.line())
	}
	if len(all) > 0 {
		return strings.Join(all, "; ")
	}
	if n.device.Identity != nil && n.device.CheckIdentity(message) == nil {
		return midi.Describe(message) + ": " + n.device.Name
	}
	return midi.Describe(message)
}

// line is what is told in one line: a slot's name stands for what it holds.
func (v meansView) line() string {
	words := strings.TrimSuffix(v.words()[0], ":")
	if v.Setting != nil && v.Name == "" {
		words += " a setting"
	}
	return words
}
