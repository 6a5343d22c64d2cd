package emulator

import (
	"fmt"
	"sync"
	"time"
)

// Slots is how many memories the five-line unit has.
const Slots = 64

// EditBuffer stands for what sounds, where a slot is asked for.
const EditBuffer = -1

// FiveLine is the five-line unit. Its methods may be called from several
// goroutines; the times handed to them should not run backwards.
type FiveLine struct {
	mu sync.Mutex

	unit      byte
	protected bool
	write     time.Duration // how long a flash write takes
	silence   time.Duration // needed after each message
	faults    Faults

	slots [Slots]memory
	edit  memory
	flash *flashWrite // under way, or nil

	in        input
	messages  sysex
	deafUntil time.Time
	out       output
	left      [][]byte // pieces that have left since the last Run

	taken, valued, stored int // messages, those with values, flash writes: for Faults
}

// flashWrite is a write to the flash memory that is under way.
type flashWrite struct {
	command byte // that asked for it
	slot    int
	content memory
	done    time.Time
}

func newFiveLine(o Options) *FiveLine {
	d := &FiveLine{
		unit: byte(o.Unit), protected: o.WriteProtected,
		write: o.FlashWrite, silence: o.Silence, faults: o.Faults,
		slots: factory(),
		out:   output{faults: o.Faults},
	}
	if o.Faults.LongWrite > 0 {
		d.write = o.Faults.LongWrite
	}
	d.edit = d.slots[0]
	return d
}

// Arrive hands over the bytes that reach the unit at time now.
func (d *FiveLine) Arrive(now time.Time, bytes []byte) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.catchUp(now)
	d.in.arrive(now, bytes)
}

// Run lets the unit work up to time now and gives what has left it since it was
// last asked: the answers, each in one piece or as [Faults] order it, in their
// order.
func (d *FiveLine) Run(now time.Time) [][]byte {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.catchUp(now)
	left := d.left
	d.left = nil
	return left
}

// Next is when the unit has something to do next: to read a byte, to end a flash
// write, to let go of an answer. Without anything it is false.
func (d *FiveLine) Next() (time.Time, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if len(d.left) > 0 {
		return time.Time{}, true
	}
	at, do := d.soonest()
	return at, do != nil
}

// Protect turns the switch for write protection.
func (d *FiveLine) Protect(on bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.protected = on
}

// Memory is the 96 bytes of a slot, or of [EditBuffer], with their CRC.
func (d *FiveLine) Memory(slot int) ([]byte, error) {
	m, err := d.memory(slot)
	if err != nil {
		return nil, err
	}
	m.seal()
	return m[:], nil
}

// memory is a copy.
func (d *FiveLine) memory(slot int) (memory, error) {
	if slot < EditBuffer || slot >= Slots {
		return memory{}, fmt.Errorf("emulator %s: slot %d: there are 0 to %d", fiveLine, slot, Slots-1)
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if slot == EditBuffer {
		return d.edit, nil
	}
	return d.slots[slot], nil
}

// catchUp does, in the order of time, all that is to be done until now.
func (d *FiveLine) catchUp(now time.Time) {
	for {
		at, do := d.soonest()
		if do == nil || at.After(now) {
			return
		}
		do(at)
	}
}

// soonest is what is to be done next and when; of what falls together, the end
// of a flash write comes first.
func (d *FiveLine) soonest() (at time.Time, do func(time.Time)) {
	if d.flash != nil {
		at, do = d.flash.done, d.endWrite
	}
	if read, ok := d.in.next(); ok && (do == nil || read.Before(at)) {
		at, do = read, d.readByte
	}
	if left, ok := d.out.next(); ok && (do == nil || left.Before(at)) {
		at, do = left, func(time.Time) { d.left = append(d.left, d.out.take()) }
	}
	return at, do
}

func (d *FiveLine) readByte(now time.Time) {
	b := d.in.read()
	body, whole := d.messages.next(b)
	if b == 0xF0 && now.Before(d.deafUntil) {
		d.messages.deafen()
	}
	if whole {
		d.message(now, body)
	}
}

func (d *FiveLine) endWrite(now time.Time) {
	w := d.flash
	d.flash = nil
	d.stored++
	if !d.faults.FalseStore.hits(d.stored) {
		d.slots[w.slot] = w.content
	}
	d.acknowledge(now, w.command)
}
