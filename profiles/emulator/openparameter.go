package emulator

import "time"

const (
	openFamily = 0x06
	openSlots  = 16
)

// openParameter is the firmware of the unit that is controlled by open
// standards alone.
type openParameter struct {
	attention
	unit  byte
	hears byte // the number of the messages that it obeys: its own, unless it is a Neighbour
	slots []openSound
	edit  openSound

	ear      channelEar
	messages sysex
	answers  *output
	dumpOut  dumpOut
	dumpIn   dumpIn

	valued, stored int // memories that came whole, and those written: for Faults
}

func newOpenParameter(o Options, out *output) firmware {
	d := &openParameter{
		attention: newAttention(o), unit: byte(o.Unit), hears: byte(o.Unit), slots: openFactory(),
		ear: newChannelEar(o), answers: out,
	}
	d.edit = d.slots[0]
	return d
}

func (d *openParameter) memories() int { return openSlots }

func (d *openParameter) writes() int { return d.stored }

func (d *openParameter) recall(slot int) { d.edit = d.slots[slot] }

// protect: there is no switch for it.
func (d *openParameter) protect(bool) {}

func (d *openParameter) restart() {
	d.restarted()
	d.recall(0)
	d.ear.forget()
	d.messages, d.dumpOut, d.dumpIn = sysex{}, dumpOut{}, dumpIn{}
}

func (d *openParameter) move() { d.unit = nextNumber(d.unit) }

// partner is whom it answers, of whom the number has come: as a Neighbour it
// talks to somebody else.
func (d *openParameter) partner(number byte) byte {
	if d.unit != d.hears {
		return nextNumber(number)
	}
	return number
}

func (d *openParameter) put(slot int, codes []int) bool {
	d.slots[slot].setParameters(codes)
	s, ok := openSoundOf(d.slots[slot].bytes())
	return ok && s == d.slots[slot]
}

func (d *openParameter) sound(slot int) Sound {
	if slot == EditBuffer {
		return d.edit.sound()
	}
	return d.slots[slot].sound()
}

func (d *openParameter) read(now time.Time, b byte) {
	deaf := d.deaf(now)
	body, whole := d.messages.next(b)
	if b == 0xF0 && deaf {
		d.messages.deafen()
	}
	if whole {
		d.message(now, body)
	}
	if m, whole := d.ear.next(b, deaf); whole && d.take(now) && m.kind == programChange && m.first < openSlots {
		d.recall(int(m.first))
	}
}

// message deals with what stood between F0 and F7, if it is for this unit.
func (d *openParameter) message(now time.Time, body []byte) {
	if len(body) < 4 || body[1] != d.hears && body[1] != allUnits {
		return
	}
	if obey := d.meaning(body); obey != nil && d.take(now) {
		obey(now, body)
	}
}

// meaning is what a message to the unit asks for; nil if it says nothing to it.
func (d *openParameter) meaning(body []byte) func(time.Time, []byte) {
	kind := [3]byte{body[0], body[2], body[3]}
	switch {
	case asksIdentity(body):
		return func(now time.Time, _ []byte) { d.answers.say(now, d.identity(d.unit, openFamily)...) }
	case kind == [3]byte{universalRealTime, 0x04, 0x05}:
		return func(_ time.Time, body []byte) {
			changed := d.edit
			changed.control(body[4:])
			d.edit = d.keep(changed, d.edit)
		}
	case kind == [3]byte{universal, fileDump, dumpHeader}:
		return d.dumpBegins
	case kind == [3]byte{universal, fileDump, dumpPacket}:
		return d.dumpGoesOn
	case kind == [3]byte{universal, fileDump, dumpRequest}:
		return d.dumpAskedFor
	case body[0] == universal && len(body) == 4 && body[2] == dumpEOF:
		return d.dumpEnds
	case body[0] == universal && len(body) == 4 && body[2] > dumpEOF:
		return d.dumpAnswered
	}
	return nil
}

// keep is what was sent, with the old codes of the parameters that are ordered to
// stay.
func (d *openParameter) keep(sent, old openSound) openSound {
	codes, stay := sent.parameters(), old.parameters()
	for _, i := range d.faults.Keep {
		codes[i] = stay[i]
	}
	var numbers []int
	for _, p := range codes {
		numbers = append(numbers, p.code)
	}
	sent.setParameters(numbers)
	return sent
}

// alarm is the earlier of two time-outs, of which one runs at the most.
func (d *openParameter) alarm() (time.Time, bool) {
	if at := d.dumpOut.until; !at.IsZero() {
		return at, true
	}
	return d.dumpIn.until, !d.dumpIn.until.IsZero()
}

func (d *openParameter) wake(now time.Time) {
	if !d.dumpOut.until.IsZero() {
		d.dumpOutWaited(now)
		return
	}
	d.dumpInWaited(now)
}
