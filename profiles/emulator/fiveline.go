package emulator

import "time"

// fiveLineSlots is how many memories it has.
const fiveLineSlots = 64

// fiveLine is the firmware of the five-line unit.
type fiveLine struct {
	unit      byte
	hears     byte // the number of the messages that it obeys: its own, unless it is a Neighbour
	protected bool
	write     time.Duration // how long a flash write takes
	attention

	slots [fiveLineSlots]memory
	edit  memory
	flash *flashWrite // under way, or nil

	messages sysex
	answers  *output

	valued, stored int // messages with values, flash writes: for Faults
}

// flashWrite is a write to the flash memory that is under way.
type flashWrite struct {
	command byte // that asked for it
	slot    int
	content memory
	done    time.Time
}

func newFiveLine(o Options, out *output) firmware {
	d := &fiveLine{
		unit: byte(o.Unit), hears: byte(o.Unit), protected: o.WriteProtected,
		write: o.FlashWrite, attention: newAttention(o),
		slots: factory(), answers: out,
	}
	d.edit = d.slots[0]
	return d
}

func (d *fiveLine) protect(on bool) { d.protected = on }

func (d *fiveLine) memories() int { return fiveLineSlots }

func (d *fiveLine) writes() int { return d.stored }

func (d *fiveLine) recall(slot int) { d.edit = d.slots[slot] }

func (d *fiveLine) restart() {
	d.restarted()
	d.recall(0)
	d.flash, d.messages = nil, sysex{}
}

func (d *fiveLine) move() { d.unit = nextNumber(d.unit) }

func (d *fiveLine) put(slot int, codes []int) bool {
	var m memory
	m.setParameters(codes)
	m.seal()
	d.slots[slot] = m
	return m.wrong() == fine
}

func (d *fiveLine) sound(slot int) Sound {
	if slot == EditBuffer {
		return d.edit.sound()
	}
	return d.slots[slot].sound()
}

func (d *fiveLine) alarm() (time.Time, bool) {
	if d.flash == nil {
		return time.Time{}, false
	}
	return d.flash.done, true
}

func (d *fiveLine) read(now time.Time, b byte) {
	body, whole := d.messages.next(b)
	if b == 0xF0 && d.deaf(now) {
		d.messages.deafen()
	}
	if whole {
		d.message(now, body)
	}
}

// wake ends the flash write.
func (d *fiveLine) wake(now time.Time) {
	w := d.flash
	d.flash = nil
	d.stored++
	if !d.faults.FalseStore.hits(d.stored) {
		d.slots[w.slot] = w.content
	}
	d.acknowledge(now, w.command)
}
