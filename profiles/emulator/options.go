package emulator

import (
	"fmt"
	"strings"
	"time"
)

// The names that the hardware goes by.
const (
	fiveLineName      = "five-line"
	tapLoopName       = "tap-loop"
	twinName          = "twin"
	openParameterName = "open-parameter"
)

// Options say how a unit is set up before power is switched on. The zero value
// is a healthy unit number 0 on channel 1, without write protection, at the end
// of a MIDI cable.
type Options struct {
	Unit           int  // unit number, 0 to 15, where it speaks SysEx
	Channel        int  // 1 to 16, where it listens to channel messages; 0 stands for 1
	WriteProtected bool // the switch at the back; see Unit.Protect

	// FlashWrite is how long a write to the memory takes; 0 stands for a little
	// less than the manual allows.
	FlashWrite time.Duration

	// USB says that bytes come by USB: a lump at a time, faster than a MIDI cable
	// could bring them. The tap-loop unit then needs a silence after each message.
	USB bool

	// Silence is what the unit needs after each message; 0 stands for what the
	// manual asks for. See also RealTime.
	Silence time.Duration

	// RealTime says that bytes are served in real time, where arrivals are known no
	// better than the computer's scheduler lets them be. Where Silence is 0 the unit
	// then asks for no more than that never costs a message to a sender that keeps
	// to the manual: 2 ms, where it answers every message (the shortest answer takes
	// 2.56 ms on the wire), else none. With USB it asks for what it needs there alone
	// all the same: the tap-loop unit for its silence.
	RealTime bool

	// Written, if not nil, is called with the memory's image each time a slot has
	// been written, before the unit says so. It must not call the unit's methods.
	Written func(image []byte)

	Faults Faults
}

// model is what the manual says before anything is played, and how the firmware
// is started.
type model struct {
	name                     string
	write, longestWrite      time.Duration // of the memory, usual and at the most
	silence, usb, inRealTime time.Duration // after each message
	lockable                 bool          // it has a switch for write protection
	start                    func(Options, *output) firmware
}

// models stand in the order of the manuals.
func models() []model {
	const ms = time.Millisecond
	return []model{
		{
			name: fiveLineName, write: 250 * ms, longestWrite: 300 * ms,
			silence: 4 * ms, usb: 4 * ms, inRealTime: 2 * ms, lockable: true, start: newFiveLine,
		},
		{name: tapLoopName, write: 450 * ms, longestWrite: 500 * ms, usb: 1 * ms, start: newTapLoop},
		{name: twinName, write: 180 * ms, longestWrite: 200 * ms, silence: 2 * ms, usb: 2 * ms, start: newTwin},
		{name: openParameterName, start: newOpenParameter},
	}
}

// Names lists the hardware there is an emulator for.
func Names() []string {
	var names []string
	for _, m := range models() {
		names = append(names, m.name)
	}
	return names
}

// New is the named hardware, just switched on, with its factory memory.
func New(name string, o Options) (*Unit, error) {
	for _, m := range models() {
		if m.name != name {
			continue
		}
		o, err := m.complete(o)
		if err != nil {
			return nil, fmt.Errorf("emulator %s: %w", name, err)
		}
		out := newOutput(o.Faults)
		u := &Unit{name: name, in: newInput(o.Faults), out: out, firmware: m.start(o, out), rebootFor: o.Faults.RebootFor, written: o.Written}
		if o.Faults.Neighbour {
			u.firmware = withNeighbour(u.firmware, m, o, out)
		}
		return u, nil
	}
	return nil, fmt.Errorf("no emulator for %q; there is one for: %s", name, strings.Join(Names(), ", "))
}

// complete checks the options and puts in what they leave to the manual.
func (m model) complete(o Options) (Options, error) {
	switch {
	case o.Unit < 0 || o.Unit > 15:
		return o, fmt.Errorf("unit number %d: must lie from 0 to 15", o.Unit)
	case o.Channel < 0 || o.Channel > 16:
		return o, fmt.Errorf("channel %d: must lie from 1 to 16", o.Channel)
	case o.WriteProtected && !m.lockable:
		return o, fmt.Errorf("write protection: it has no switch for that")
	case o.FlashWrite < 0 || o.FlashWrite > m.longestWrite:
		return o, fmt.Errorf("flash write of %v: takes up to %v; a longer one is a fault to order", o.FlashWrite, m.longestWrite)
	case o.Silence < 0:
		return o, fmt.Errorf("silence of %v: must not be negative", o.Silence)
	}
	o.Channel = max(o.Channel, 1)
	if o.FlashWrite == 0 {
		o.FlashWrite = m.write
	}
	if o.Faults.LongWrite > 0 {
		o.FlashWrite = o.Faults.LongWrite
	}
	if o.Silence == 0 {
		o.Silence = m.needed(o)
	}
	if o.Faults.RebootFor == 0 {
		o.Faults.RebootFor = usualReboot
	}
	return o, o.Faults.check(m.name)
}

// needed is the silence that is asked for after each message.
func (m model) needed(o Options) time.Duration {
	switch {
	case o.RealTime && o.USB:
		return max(m.inRealTime, m.usb-m.silence)
	case o.RealTime:
		return m.inRealTime
	case o.USB:
		return m.usb
	}
	return m.silence
}
