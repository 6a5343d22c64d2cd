package emulator

import (
	"fmt"
	"sync"
	"time"
)

// EditBuffer stands for what sounds, where a slot is asked for.
const EditBuffer = -1

// A Unit is one piece of hardware, switched on. Its methods may be called from
// several goroutines; the times handed to them should not run backwards.
type Unit struct {
	name string

	mu       sync.Mutex
	in       input
	out      *output
	left     [][]byte // pieces that have left since the last Run
	firmware firmware

	rebootFor time.Duration
	written   func(image []byte) // see Options; may be nil
	told      int                // writes that it was called for
}

// firmware is the program inside a unit, written from its manual. It answers
// through the output that it was made with.
type firmware interface {
	// read takes the byte that has been read at time now.
	read(now time.Time, b byte)
	// alarm is when it wants to be woken next, if at all.
	alarm() (time.Time, bool)
	// wake is called at that time.
	wake(now time.Time)
	// memories is how many slots there are.
	memories() int
	// sound is what a slot, or EditBuffer, holds: a copy.
	sound(slot int) Sound
	// put makes a slot hold codes, in the order of Sound.Parameters; false where
	// there is one that its parameter does not have.
	put(slot int, codes []int) bool
	// protect turns the switch for write protection, where there is one.
	protect(on bool)
	// recall lets a slot sound.
	recall(slot int)
	// writes is how many times a slot has been written.
	writes() int
	// falls tells, once, that a restart is due.
	falls() bool
	// restart forgets what is lost without power. The memories stay, and what was
	// counted for Faults.
	restart()
}

// Name is what the hardware is called: one of [Names].
func (u *Unit) Name() string { return u.name }

// Slots is how many memories it has, counted from 0.
func (u *Unit) Slots() int { return u.firmware.memories() }

// Arrive hands over the bytes that reach the unit at time now.
func (u *Unit) Arrive(now time.Time, bytes []byte) {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.catchUp(now)
	u.in.arrive(now, bytes)
}

// Run lets the unit work up to time now and gives what has left it since it was
// last asked: the answers, each in one piece or as [Faults] order it, in their
// order.
func (u *Unit) Run(now time.Time) [][]byte {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.catchUp(now)
	left := u.left
	u.left = nil
	return left
}

// Next is when the unit has something to do next: to read a byte, to end a
// write to its memory, to let go of an answer. Without anything it is false.
func (u *Unit) Next() (time.Time, bool) {
	u.mu.Lock()
	defer u.mu.Unlock()
	if len(u.left) > 0 {
		return time.Time{}, true
	}
	at, do := u.soonest()
	return at, do != nil
}

// Sound is what a slot, or [EditBuffer], holds.
func (u *Unit) Sound(slot int) (Sound, error) {
	if last := u.Slots() - 1; slot < EditBuffer || slot > last {
		return Sound{}, fmt.Errorf("emulator %s: slot %d: there are 0 to %d", u.name, slot, last)
	}
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.firmware.sound(slot), nil
}

// Memory is the bytes of a slot, or of [EditBuffer], where the manual tells how
// they are stored; else there are none.
func (u *Unit) Memory(slot int) ([]byte, error) {
	s, err := u.Sound(slot)
	return s.Bytes(), err
}

// Protect turns the switch for write protection, where there is one.
func (u *Unit) Protect(on bool) {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.firmware.protect(on)
}

// catchUp does, in the order of time, all that is to be done until now.
func (u *Unit) catchUp(now time.Time) {
	for {
		at, do := u.soonest()
		if do == nil || at.After(now) {
			return
		}
		do(at)
		u.tellOfWrites()
	}
}

// read takes one byte out of the buffer, and restarts the unit where its message
// so orders.
func (u *Unit) read(now time.Time) {
	u.firmware.read(now, u.in.read())
	if u.firmware.falls() {
		u.firmware.restart()
		u.out.switchOff()
		u.in.switchOff(now.Add(u.rebootFor))
	}
}

// tellOfWrites comes before anything of what follows a write has left the unit.
func (u *Unit) tellOfWrites() {
	if n := u.firmware.writes(); n > u.told {
		u.told = n
		if u.written != nil {
			u.written(u.image())
		}
	}
}

// soonest is what is to be done next and when; of what falls together, the
// firmware's own comes first.
func (u *Unit) soonest() (at time.Time, do func(time.Time)) {
	if alarm, ok := u.firmware.alarm(); ok {
		at, do = alarm, u.firmware.wake
	}
	if read, ok := u.in.next(); ok && (do == nil || read.Before(at)) {
		at, do = read, u.read
	}
	if left, ok := u.out.next(); ok && (do == nil || left.Before(at)) {
		at, do = left, func(time.Time) { u.left = append(u.left, u.out.take()) }
	}
	return at, do
}
