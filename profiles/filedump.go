package profiles

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"time"

	"echowright/midi"
)

// A fileDump is how slots travel as MIDI File Dumps (M1 pages 41 to 46): a
// header, packets, an end, each packet with a handshake.
type fileDump struct {
	kind    string
	name    *template // of the file: text and the slot in ASCII digits
	packet  int       // most stored bytes in one
	answers bool      // it acknowledges: no open loop
}

// How long the standard waits for an answer; after it a sender goes on as if it
// had been told to (M1 page 45).
const (
	headerTimeout = 200 * time.Millisecond
	packetTimeout = 50 * time.Millisecond
)

func (b *builder) fileDump(path string, f fileDumpFile) *fileDump {
	out := &fileDump{kind: f.Type, packet: f.PacketBytes, answers: !f.OpenLoop}
	if len(f.Type) != 4 {
		b.add(path+".type", "%q: four characters, such as \"BIN \"", f.Type)
	}
	if out.packet == 0 {
		out.packet = midi.MostInPacket
	}
	b.inRange(path+".packet_bytes", out.packet, 1, midi.MostInPacket)
	name, err := parseFileName(f.Name)
	if err != nil {
		b.add(path+".name", "%v", err)
		return out
	}
	out.name = name
	if !name.has(fieldSlot) && b.device.FirstSlot != b.device.LastSlot {
		b.add(path+".name", "%q does not tell one slot from another: write its number into it, such as MEM{slot:dec2}", f.Name)
	}
	for _, slot := range []int{b.device.FirstSlot, b.device.LastSlot} {
		if got, err := name.again(fields{slot: slot}); err != nil {
			b.add(path+".name", "%v", err)
		} else if got.slot != slot {
			b.add(path+".name", "%q does not tell slot %d from others", f.Name, slot)
		}
	}
	if b.file.Message.AskSlot != nil || b.file.Message.WriteSlot != nil {
		b.add(path, "stands beside [message.ask_slot] or [message.write_slot]: slots travel in one way")
	}
	return out
}

// parseFileName reads text with places for the slot: "MEM{slot:dec2}".
func parseFileName(text string) (*template, error) {
	t := &template{text: text, from: -1, to: -1}
	for rest := text; rest != ""; {
		plain, after, found := strings.Cut(rest, "{")
		if err := t.addText(plain); err != nil {
			return nil, err
		}
		if !found {
			break
		}
		word, next, closed := strings.Cut(after, "}")
		p, err := parsePlace("{"+word+"}", templateRules{})
		if err != nil {
			return nil, err
		}
		if !closed || p.base == 0 || p.name != fieldSlot {
			return nil, fmt.Errorf("%q: only the slot in ASCII digits stands in a name, such as MEM{slot:dec2}", text)
		}
		t.parts = append(t.parts, p)
		rest = next
	}
	if len(t.parts) > maxParts/2 {
		return nil, fmt.Errorf("%q: more than %d characters", text, maxParts/2)
	}
	t.findSources()
	return t, nil
}

// head is the header of a slot's dump to a unit, or the request for one.
func (d *Device) head(unit, slot int) (midi.FileDump, error) {
	name, err := d.memory.fileDump.name.append(nil, &fields{slot: slot})
	return midi.FileDump{Device: unit, Source: hostNumber(unit), Type: d.memory.fileDump.kind, Name: string(name), Length: d.memory.bytes}, err
}

// hostNumber is the number under which this program takes part in a dump: not
// the unit's.
func hostNumber(unit int) int {
	if unit == 0x7E {
		return 0x7D
	}
	return 0x7E
}

// fileDumpSteps sends a memory: the header until it is answered, then packets;
// a packet without an answer counts as taken, since one that is sent twice would
// end the dump.
func (d *Device) fileDumpSteps(unit, slot int, memory []byte) ([]midi.Step, error) {
	if err := d.checkMemory(slot, memory); err != nil {
		return nil, err
	}
	head, err := d.head(unit, slot)
	if err != nil {
		return nil, err
	}
	header, err := head.Header()
	if err != nil {
		return nil, err
	}
	steps := []midi.Step{d.dumpStep(fmt.Sprintf("write slot %d: announce %d bytes", slot, len(memory)), header, -1, headerTimeout)}
	number := 0
	for ; len(memory) > 0; number++ {
		piece := memory[:min(len(memory), d.memory.fileDump.packet)]
		memory = memory[len(piece):]
		packet, err := midi.AppendFilePacket(nil, unit, number, piece)
		if err != nil {
			return nil, err
		}
		s := d.dumpStep(fmt.Sprintf("write slot %d: packet %d", slot, number), packet, number&0x7F, packetTimeout)
		if s.Answers != nil {
			s.Silence = midi.Done
		}
		steps = append(steps, s)
	}
	end, err := midi.EOF.Message(unit, (number-1)&0x7F)
	if err != nil {
		return nil, err
	}
	return append(steps, midi.Step{What: fmt.Sprintf("write slot %d: that is all", slot), Send: end, Gap: d.Manners.Flash + d.Manners.Gap}), nil
}

// dumpStep is a message of a dump that the unit answers with a handshake about
// the packet, any below 0; a unit that acknowledges nothing gets the time that it
// could take for it.
func (d *Device) dumpStep(what string, message []byte, packet int, timeout time.Duration) midi.Step {
	s := midi.Step{What: what, Send: message, Gap: d.Manners.Gap}
	if !d.memory.fileDump.answers {
		s.Gap = max(s.Gap, timeout)
		return s
	}
	s.Timeout = max(timeout, d.Manners.Answer)
	s.Answers = toUs(int(message[2]), append([]midi.Answer{{Match: midi.ACK.Answer(packet), Means: midi.Done}}, hitches()...))
	return s
}

// toUs leaves of answers those that go to this program: a message of a File Dump
// carries the number of the device that gets it. Beside our number the unit's own
// and the one for all are let pass, since there are units that write one of them;
// what goes to any other number is somebody else's conversation on the same line.
func toUs(unit int, answers []midi.Answer) []midi.Answer {
	const deviceAt, all = 2, 0x7F
	var ours []midi.Answer
	for _, a := range answers {
		for _, number := range []int{hostNumber(unit), unit, all} {
			narrow := a
			narrow.Match.Value, narrow.Match.Mask = bytes.Clone(a.Match.Value), bytes.Clone(a.Match.Mask)
			narrow.Match.Value[deviceAt], narrow.Match.Mask[deviceAt] = byte(number), 0xFF
			ours = append(ours, narrow)
		}
	}
	return ours
}

// CancelStep ends in the middle a conversation about a slot, in whichever direction
// it goes, so that the device does not take what comes next for a part of it;
// false where a slot takes no more than a message.
func (d *Device) CancelStep(unit int) (step midi.Step, ok bool) {
	if d.memory.fileDump == nil {
		return midi.Step{}, false
	}
	step, err := d.cancelStep(unit)
	return step, err == nil
}

// cancelStep is CANCEL; the number of a packet counts for nothing in it (M1 page 45).
func (d *Device) cancelStep(unit int) (midi.Step, error) {
	message, err := midi.CANCEL.Message(unit, 0)
	return midi.Step{What: "end the file dump", Send: message, Gap: d.Manners.Gap, Follows: true}, err
}

// hitches are the handshakes that are no acknowledge.
func hitches() []midi.Answer {
	return []midi.Answer{
		{Match: midi.NAK.Answer(-1), Means: midi.Damaged, Says: "NAK"},
		{Match: midi.WAIT.Answer(-1), Means: midi.Hold, Says: "WAIT"},
		{Match: midi.CANCEL.Answer(-1), Means: midi.Refused, Says: "CANCEL: no such memory, or it will not have these bytes"},
	}
}

// fileDumpMemory puts a memory together from the messages of a dump.
func (d *Device) fileDumpMemory(messages []byte) (slot int, memory []byte, err error) {
	var framer midi.Framer
	var f fields
	begun := false
	next := 0
	framer.Feed(messages, func(frame midi.Frame) {
		switch {
		case err != nil || frame.RealTime():
		case !begun:
			begun = true
			f, err = d.dumpHeader(frame.Bytes)
		default:
			var number int
			var piece []byte
			if number, piece, err = midi.ParseFilePacket(frame.Bytes); err == nil && number != next&0x7F {
				err = fmt.Errorf("packet %d came where %d was due: %w", number, next&0x7F, ErrDamaged)
			}
			memory = append(memory, piece...)
			next++
		}
	})
	switch {
	case errors.Is(err, midi.ErrChecksum):
		return f.slot, nil, fmt.Errorf("device %q: file dump: %w: %w", d.Name, err, ErrDamaged)
	case err != nil:
		return f.slot, nil, fmt.Errorf("device %q: file dump: %w", d.Name, err)
	case len(memory) != d.memory.bytes:
		return f.slot, nil, fmt.Errorf("device %q: file dump of %d bytes, %d wanted: %w", d.Name, len(memory), d.memory.bytes, ErrDamaged)
	}
	return f.slot, memory, nil
}

// dumpHeader reads which slot a dump is of.
func (d *Device) dumpHeader(message []byte) (fields, error) {
	var f fields
	head, err := midi.ParseFileDumpHeader(message)
	switch {
	case err != nil:
		return f, err
	case head.Type != d.memory.fileDump.kind:
		return f, fmt.Errorf("type %q: %q wanted", head.Type, d.memory.fileDump.kind)
	case head.Length != 0 && head.Length != d.memory.bytes:
		return f, fmt.Errorf("%q has %d bytes: %d wanted", head.Name, head.Length, d.memory.bytes)
	}
	if err := d.memory.fileDump.name.parse([]byte(head.Name), &f); err != nil {
		return f, fmt.Errorf("name %q: %w", head.Name, err)
	}
	return f, nil
}
