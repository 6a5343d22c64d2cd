package profiles

import (
	"bytes"
	"errors"
	"fmt"

	"echowright/midi"
)

// A SlotReading is a conversation that asks for what a slot holds, without the
// port: Next says what to send, Take hears what came back, and in the end
// Messages is what SlotMemory reads. A device that sends a slot in one message
// is asked once; one with File Dumps gets its packets acknowledged, and where what
// it sends is of no use it is told to stop before Take gives the reason. Who ends
// the conversation in the middle for a reason of its own sends [Device.CancelStep].
type SlotReading struct {
	device     *Device
	unit, slot int
	next       *midi.Step // nil: all is there
	messages   []byte
	bytes      int   // of the file so far
	packet     int   // the number of the packet that is due, −1 for the header
	again      int   // times that this packet did not arrive whole
	cancelled  error // why the device has been told to stop
}

// ReadSlot begins a conversation about a slot.
func (d *Device) ReadSlot(unit, slot int) (*SlotReading, error) {
	r := &SlotReading{device: d, unit: unit, slot: slot, packet: -1}
	if d.memory.fileDump == nil {
		step, err := d.AskSlotStep(unit, slot)
		r.next = &step
		return r, err
	}
	if err := d.CheckSlot(slot); err != nil {
		return nil, err
	}
	head, err := d.head(unit, slot)
	if err != nil {
		return nil, err
	}
	request, err := head.Request()
	if err != nil {
		return nil, err
	}
	header := midi.Match{Value: []byte{0xF0, 0x7E, 0, 0x07, 0x01}, Mask: []byte{0xFF, 0xFF, 0, 0xFF, 0xFF}, Tail: true}
	r.say(fmt.Sprintf("ask for slot %d", slot), request, midi.Answer{Match: header, Means: midi.Data})
	r.next.Follows, r.next.Silence = false, 0 // a request may be sent again
	return r, nil
}

// Next is the step to run now; false if there is none left.
func (r *SlotReading) Next() (step midi.Step, more bool) {
	if r.next == nil {
		return midi.Step{}, false
	}
	return *r.next, true
}

// Messages is all that the device has sent of the slot so far, in order.
func (r *SlotReading) Messages() []byte { return bytes.Clone(r.messages) }

// say prepares the next step. A handshake is not sent again where nothing comes:
// it might be taken for the next packet's.
func (r *SlotReading) say(what string, message []byte, answer midi.Answer) {
	d := r.device
	r.next = &midi.Step{
		What: what, Send: message, Gap: d.Manners.Gap, Follows: true, Silence: midi.Refused,
		Timeout: max(headerTimeout, d.Manners.Answer), Answers: toUs(r.unit, append([]midi.Answer{answer}, hitches()...)),
	}
}

// Take hears the answer to the step that Next gave; nil where silence is one. The
// error wraps ErrDamaged where it is worth beginning anew.
func (r *SlotReading) Take(answer []byte) error {
	switch {
	case r.next == nil:
		return fmt.Errorf("slot %d: nothing more was asked for", r.slot)
	case r.cancelled != nil:
		r.next = nil
		return r.cancelled
	case r.device.memory.fileDump == nil:
		r.messages, r.next = bytes.Clone(answer), nil
		return nil
	}
	if err := r.takeDump(answer); err != nil {
		step, err2 := r.device.cancelStep(r.unit)
		if err2 != nil {
			return err
		}
		r.next, r.cancelled = &step, err
	}
	return nil
}

func (r *SlotReading) takeDump(answer []byte) error {
	if r.packet < 0 {
		return r.takeHeader(answer)
	}
	if answer == nil && r.isWhole() {
		r.next = nil // the end got lost, and says nothing that is not known
		return nil
	}
	if h, _, ok := midi.ParseHandshake(answer); ok {
		return r.takeEnd(h)
	}
	return r.takePacket(answer)
}

// isWhole reports whether all bytes of the memory are there.
func (r *SlotReading) isWhole() bool { return r.bytes == r.device.memory.bytes }

// takeHeader: a header has no checksum, so what is wrong with it may be damage.
func (r *SlotReading) takeHeader(answer []byte) error {
	f, err := r.device.dumpHeader(answer)
	if err != nil {
		return fmt.Errorf("slot %d: %w; perhaps it was %w", r.slot, err, ErrDamaged)
	}
	if f.slot != r.slot {
		return fmt.Errorf("slot %d was asked for, slot %d came; perhaps it was %w", r.slot, f.slot, ErrDamaged)
	}
	r.messages, r.packet = bytes.Clone(answer), 0
	return r.shake(midi.ACK, 0)
}

// takeEnd: a dump that ends before all is there has lost a packet on the way.
func (r *SlotReading) takeEnd(h midi.Handshake) error {
	if h != midi.EOF || !r.isWhole() {
		return fmt.Errorf("slot %d: the dump ended (%v) after %d bytes of %d: %w", r.slot, h, r.bytes, r.device.memory.bytes, ErrDamaged)
	}
	r.next = nil
	return nil
}

// dumpErrors is how often one packet may go wrong (M1 page 44).
const dumpErrors = 3

func (r *SlotReading) takePacket(answer []byte) error {
	number, data, err := midi.ParseFilePacket(answer)
	switch {
	case errors.Is(err, midi.ErrChecksum):
		if r.again++; r.again >= dumpErrors {
			return fmt.Errorf("slot %d: %w, %d times: %w", r.slot, err, r.again, ErrDamaged)
		}
		return r.shake(midi.NAK, r.packet&0x7F)
	case err != nil:
		return fmt.Errorf("slot %d: %w", r.slot, err)
	case number != r.packet&0x7F:
		return fmt.Errorf("slot %d: packet %d came where %d was due: %w", r.slot, number, r.packet&0x7F, ErrDamaged)
	}
	r.messages = append(r.messages, answer...)
	r.bytes += len(data)
	if r.bytes > r.device.memory.bytes {
		return fmt.Errorf("slot %d: the dump goes on after its %d bytes", r.slot, r.device.memory.bytes)
	}
	r.packet, r.again = r.packet+1, 0
	return r.shake(midi.ACK, number)
}

// shake answers a packet, and waits for the next one or the end.
func (r *SlotReading) shake(h midi.Handshake, packet int) error {
	message, err := h.Message(r.unit, packet)
	if err != nil {
		return err
	}
	due := midi.Match{Value: []byte{0xF0, 0x7E, 0, 0x07, 0x02}, Mask: []byte{0xFF, 0xFF, 0, 0xFF, 0xFF}, Tail: true}
	r.say(fmt.Sprintf("ask for slot %d: %v of packet %d", r.slot, h, packet), message, midi.Answer{Match: due, Means: midi.Data})
	r.next.Answers = append(r.next.Answers, toUs(r.unit, []midi.Answer{{Match: midi.EOF.Answer(-1), Means: midi.Data}})...)
	if r.isWhole() {
		r.next.Silence = midi.Done
	}
	if r.packet > 0 { // the one before may come twice
		twice := midi.Match{Value: append(bytes.Clone(due.Value), byte((r.packet-1)&0x7F)), Mask: append(bytes.Clone(due.Mask), 0xFF), Tail: true}
		r.next.Answers = append(toUs(r.unit, []midi.Answer{{Match: twice, Means: midi.Hold}}), r.next.Answers...)
	}
	return nil
}
