package main

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"net"
	"strings"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"echowright/midi/port/netport"
	"echowright/profiles/emulator"
)

// Devices that scripts can ask for: "device SOCKET ILLNESS" puts a five-line unit
// behind a socket, until the script ends.
var illnesses = map[string]emulator.Options{
	"healthy":         {},
	"mute":            {Faults: emulator.Faults{Mute: true}},
	"rubbish":         {Faults: emulator.Faults{Rubbish: emulator.Every, CorruptAnswer: emulator.Every}},
	"protected":       {WriteProtected: true},
	"other-model":     {Faults: emulator.Faults{WrongIdentity: true}},
	"keeps-a-time":    {Faults: emulator.Faults{Keep: []int{0x00}}}, // time of line A
	"forgets-to-save": {Faults: emulator.Faults{FalseStore: emulator.Every}},
	"dies-reading":    {Faults: emulator.Faults{DieAfter: 1}}, // the identity is asked for by no command of its own
	"hangs-up":        {},                                     // see hangUp
}

// devices are those of one script, by socket.
type devices map[string]*emulator.Unit

const devicesKey = "devices"

func startDevice(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: device SOCKET ILLNESS")
	}
	o, ok := illnesses[args[1]]
	if !ok {
		ts.Fatalf("no illness %q", args[1])
	}
	o.Silence = 2 * time.Millisecond // served in real time
	d, err := emulator.New("five-line", o)
	ts.Check(err)
	listener, err := net.Listen("unix", ts.MkAbs(args[0]))
	ts.Check(err)
	ctx, stop := context.WithCancel(context.Background())
	ts.Defer(func() {
		stop()
		listener.Close()
	})
	ts.Value(devicesKey).(devices)[args[0]] = d
	go serve(ctx, listener, d, args[1] == "hangs-up")
}

// serve takes one caller after another.
func serve(ctx context.Context, listener net.Listener, d *emulator.Unit, fickle bool) {
	for {
		caller, err := listener.Accept()
		if err != nil {
			return
		}
		if fickle {
			caller = &hangUp{Conn: caller, left: 60}
		}
		p := netport.New("socket", caller)
		_ = emulator.Serve(ctx, p, d) // ends with the caller, or with the script
		p.Close()
	}
}

// hangUp goes away after so many bytes: in the middle of the message that writes
// a slot.
type hangUp struct {
	net.Conn
	left int
}

func (h *hangUp) Read(b []byte) (int, error) {
	if h.left <= 0 {
		h.Conn.Close()
		return 0, errors.New("unplugged")
	}
	n, err := h.Conn.Read(b[:min(len(b), h.left)])
	h.left -= n
	return n, err
}

// memories lists what a device holds.
func memories(ts *testscript.TestScript, d *emulator.Unit) string {
	var list strings.Builder
	for slot := emulator.EditBuffer; slot < d.Slots(); slot++ {
		m, err := d.Memory(slot)
		ts.Check(err)
		fmt.Fprintf(&list, "slot %d %x\n", slot, sha256.Sum256(m))
	}
	return list.String()
}
