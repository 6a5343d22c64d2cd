package transfer

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port"
)

// The protocol of these tests: F0 7D <command> F7 is answered by F0 7D 7F <command>
// F7 (done), F0 7D 12 <command> F7 (data) or F0 7D 7E <command> <reason> F7, where
// reason 1 is a checksum, 4 a routing that cannot be, 6 busy.
func step(command int) midi.Step {
	c := fmt.Sprintf("%02X", command)
	return midi.Step{
		What:    "command " + c,
		Send:    unhex("F0 7D " + c + " F7"),
		Timeout: 100 * time.Millisecond,
		Gap:     4 * time.Millisecond,
		Answers: []midi.Answer{
			{Match: pattern("F0 7D 7F " + c + " F7"), Means: midi.Done},
			{Match: pattern("F0 7D 12 " + c + " *"), Means: midi.Data},
			{Match: pattern("F0 7D 7E " + c + " 01 F7"), Means: midi.Damaged, Says: "checksum"},
			{Match: pattern("F0 7D 7E " + c + " 06 F7"), Means: midi.Busy, Says: "busy"},
			{Match: pattern("F0 7D 7E " + c + " 04 F7"), Means: midi.Refused, Says: "routing"},
		},
	}
}

const (
	done    = "F0 7D 7F %02X F7"
	data    = "F0 7D 12 %02X 05 F7"
	damaged = "F0 7D 7E %02X 01 F7"
	busy    = "F0 7D 7E %02X 06 F7"
	routing = "F0 7D 7E %02X 04 F7"
)

func unhex(s string) []byte {
	b, err := midi.ParseHex(s)
	if err != nil {
		panic(err)
	}
	return b
}

func pattern(s string) midi.Match {
	m, err := midi.ParseMatch(s)
	if err != nil {
		panic(err)
	}
	return m
}

// say is what the device sends after a while; pieces of one byte, a millisecond
// apart, with slow.
type say struct {
	after time.Duration
	hex   string
	slow  bool
}

// device is the other end of the cable. What it answers to its nth message,
// counted from 0, stands in the script.
type device struct {
	port.Port
	script func(n int, command byte) []say
	hears  func(message []byte) []say // in place of the script, if not nil
	work   sync.WaitGroup

	mu  sync.Mutex
	got []string
}

// talk opens a link to a device with that script. It must be called inside a
// synctest bubble.
func talk(t *testing.T, o Options, script func(n int, command byte) []say) (*Link, *device) {
	near, far := port.Pipe("cable")
	return talkOver(t, near, far, o, script)
}

// talkOver is talk over a cable of the test's own.
func talkOver(t *testing.T, near, far port.Port, o Options, script func(n int, command byte) []say) (*Link, *device) {
	d := &device{Port: far, script: script}
	d.work.Go(func() {
		var f midi.Framer
		for {
			b, err := far.Receive(context.Background())
			if err != nil {
				return
			}
			f.Feed(b, func(m midi.Frame) { d.hear(m.Bytes) })
		}
	})
	l := Open(near, o)
	t.Cleanup(func() {
		require.NoError(t, l.Close())
		d.work.Wait()
	})
	return l, d
}

func (d *device) hear(message []byte) {
	d.mu.Lock()
	defer d.mu.Unlock()
	n := len(d.got)
	d.got = append(d.got, midi.Hex(message))
	var says []say
	switch {
	case d.hears != nil:
		says = d.hears(message)
	case pattern("F0 7D .. F7").Fits(message):
		says = d.script(n, message[2])
	}
	for _, s := range says {
		d.work.Go(func() {
			time.Sleep(s.after)
			d.speak(unhex(s.hex), s.slow)
		})
	}
}

func (d *device) speak(b []byte, slow bool) {
	if !slow {
		_ = d.Send(context.Background(), b) // the link may be closed by now
		return
	}
	for _, c := range b {
		_ = d.Send(context.Background(), []byte{c})
		time.Sleep(time.Millisecond)
	}
}

func (d *device) heard() []string {
	d.mu.Lock()
	defer d.mu.Unlock()
	return slices.Clone(d.got)
}

// forget takes the list of what was heard away, for tests that look at memory.
func (d *device) forget() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.got = nil
}

// always answers every message alike.
func always(all ...say) func(int, byte) []say {
	return func(_ int, command byte) []say {
		out := slices.Clone(all)
		for i := range out {
			out[i].hex = strings.ReplaceAll(out[i].hex, "%02X", fmt.Sprintf("%02X", command))
		}
		return out
	}
}

// inOrder answers the nth message with the nth of the list; beyond it the device is dumb.
func inOrder(list ...[]say) func(int, byte) []say {
	return func(n int, command byte) []say {
		if n >= len(list) {
			return nil
		}
		return always(list[n]...)(n, command)
	}
}
