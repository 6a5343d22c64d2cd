package profiles

import (
	"bytes"
	"errors"
	"fmt"
	"slices"

	"echowright/midi"
)

// ProvesSlots reports whether what the device sends of a slot carries a check that
// can be relied on to show damage on the way: one of 16 bits. A sum or an
// exclusive or of seven bits, such as a File Dump has, lets every seventh
// pair of wrong bits pass that fall into two of its bytes.
func (d *Device) ProvesSlots() bool {
	const enough = 16
	return d.Readable() && d.memory.check != nil && d.memory.check.rule.bits >= enough
}

// A KeptSlot is all that a device sends of a slot, as SlotMemory reads it.
type KeptSlot struct {
	Slot     int
	Messages []byte
}

// SlotsIn finds the device's slots in a stream of messages, such as a .syx file:
// memories as the device sends them, and as they are written to it, which are put
// into the words in which it sends them. The slots come sorted by number; of a slot
// that is there several times the last counts. All else is passed over, and told
// with its place: rubbish between messages, messages of other kinds and makers,
// whatever did not arrive whole, slots that came again. The error wraps
// [ErrCannot] for a device whose slots cannot be read.
func (d *Device) SlotsIn(stream []byte) (slots []KeptSlot, passedOver []string, err error) {
	if !d.Readable() {
		return nil, nil, fmt.Errorf("device %q: find its slots in a file: it does not send them: %w", d.Name, ErrCannot)
	}
	f := slotFinder{device: d, kept: map[int]found{}}
	for _, s := range sysexSpans(stream) {
		f.take(s)
	}
	f.breakOff()
	slices.SortStableFunc(f.told, func(a, b remark) int { return a.at - b.at })
	for _, k := range f.kept {
		slots = append(slots, k.slot)
	}
	slices.SortFunc(slots, func(a, b KeptSlot) int { return a.Slot - b.Slot })
	for _, r := range f.told {
		passedOver = append(passedOver, r.text)
	}
	return slots, passedOver, nil
}

// A slotFinder goes through the messages of a stream.
type slotFinder struct {
	device *Device
	kept   map[int]found
	told   []remark
	dump   openDump
}

// found is a slot and the place in the stream at which it begins.
type found struct {
	at   int
	slot KeptSlot
}

// A remark is about what begins at that byte.
type remark struct {
	at   int
	text string
}

// An openDump is a File Dump of which messages have come.
type openDump struct {
	at       int
	slot     int
	messages []byte // nil: none is under way
	bytes    int    // of the memory so far
	next     int    // the number of the packet that is due
}

func (f *slotFinder) pass(s span, format string, args ...any) {
	f.told = append(f.told, remark{s.at, s.place() + ": " + fmt.Sprintf(format, args...)})
}

// take hears the next message or rubbish.
func (f *slotFinder) take(s span) {
	switch {
	case !s.exclusive:
		f.pass(s, "no System Exclusive message")
	case s.fault != midi.Whole:
		f.pass(s, "a System Exclusive message that is %v", s.fault)
	case f.device.memory.fileDump != nil:
		f.takeDump(s)
	default:
		f.takeMessage(s)
	}
}

// takeMessage hears a message that may hold a whole slot.
func (f *slotFinder) takeMessage(s span) {
	d := f.device
	slot, _, err := d.SlotMemory(s.bytes)
	message := s.bytes
	if err != nil && d.messages.writeSlot != nil {
		written := fields{command: d.messages.writeSlot.command}
		if wrong := d.messages.writeSlot.send.parse(s.bytes, &written); errors.Is(wrong, ErrDamaged) {
			err = wrong
		} else if wrong == nil && written.command == d.messages.writeSlot.command {
			message, err = d.asSent(written)
			slot = written.slot
		}
	}
	switch {
	case errors.Is(err, ErrDamaged):
		f.pass(s, "%v", err)
	case err != nil:
		f.pass(s, "no slot of device %q", d.Name)
	default:
		f.keep(s, s.at, KeptSlot{Slot: slot, Messages: message})
	}
}

// asSent is the message in which the device would send the memory that another one
// writes.
func (d *Device) asSent(written fields) ([]byte, error) {
	written.command = d.messages.askSlot.command
	return d.messages.askSlot.reply.append(nil, &written)
}

// keep takes a slot whose messages begin at that byte and end with s.
func (f *slotFinder) keep(s span, at int, k KeptSlot) {
	d := f.device
	s.at = at
	if err := d.CheckSlot(k.Slot); err != nil {
		f.pass(s, "%v", err)
		return
	}
	_, memory, err := d.SlotMemory(k.Messages)
	if err == nil && d.memory.bytes > 0 {
		if _, fault := d.SlotSetting(memory); errors.Is(fault, ErrDamaged) {
			err = fault // codes that it does not have are the owner's business
		}
	}
	if err != nil {
		f.pass(s, "slot %d: %v", k.Slot, err)
		return
	}
	if before, twice := f.kept[k.Slot]; twice {
		f.told = append(f.told, remark{before.at, fmt.Sprintf("byte %d: slot %d: it comes again at byte %d, which counts", before.at, k.Slot, at)})
	}
	f.kept[k.Slot] = found{at: at, slot: k}
}

// takeDump hears a message that may belong to a File Dump.
func (f *slotFinder) takeDump(s span) {
	if head, err := f.device.dumpHeader(s.bytes); err == nil {
		f.breakOff()
		f.dump = openDump{at: s.at, slot: head.slot, messages: bytes.Clone(s.bytes)}
		return
	} else if !errors.Is(err, midi.ErrNoFileDump) {
		f.breakOff()
		f.pass(s, "a file dump that is no slot of device %q: %v", f.device.Name, err)
		return
	}
	number, data, err := midi.ParseFilePacket(s.bytes)
	switch {
	case errors.Is(err, midi.ErrNoFileDump):
		f.takeOther(s)
	case f.dump.messages == nil:
		f.pass(s, "packet %d of a file dump whose beginning is not there", number)
	case err != nil:
		f.pass(s, "slot %d: %v", f.dump.slot, err) // it may come again
	case number != f.dump.next&0x7F:
		f.pass(s, "slot %d: packet %d where %d was due", f.dump.slot, number, f.dump.next&0x7F)
	default:
		f.takePacket(s, data)
	}
}

func (f *slotFinder) takePacket(s span, data []byte) {
	o := &f.dump
	o.messages = append(o.messages, s.bytes...)
	o.bytes += len(data)
	o.next++
	if o.bytes < f.device.memory.bytes {
		return
	}
	f.keep(s, o.at, KeptSlot{Slot: o.slot, Messages: o.messages})
	f.dump = openDump{}
}

// takeOther passes over what is no part of a dump. Its handshakes are told in no
// words: they hold nothing.
func (f *slotFinder) takeOther(s span) {
	if h, _, ok := midi.ParseHandshake(s.bytes); ok {
		if h == midi.EOF || h == midi.CANCEL {
			f.breakOff()
		}
		return
	}
	f.pass(s, "no slot of device %q", f.device.Name)
}

// breakOff passes over a dump that has begun and does not go on.
func (f *slotFinder) breakOff() {
	if o := f.dump; o.messages != nil {
		f.told = append(f.told, remark{o.at, fmt.Sprintf("byte %d: slot %d: its file dump ends after %d bytes of %d", o.at, o.slot, o.bytes, f.device.memory.bytes)})
	}
	f.dump = openDump{}
}
