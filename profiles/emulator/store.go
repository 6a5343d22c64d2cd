package emulator

import "time"

// storing is the memory of a unit that tells nothing of it: slots of one kind
// of sound, what sounds, and the write that is under way.
type storing[S any] struct {
	slots []S
	edit  S

	write  time.Duration // how long a write takes
	faulty Nth           // writes that are not made
	made   int           // writes so far, those that were not made with them
	slot   int           // that is written
	done   time.Time     // zero without a write under way
}

func newStoring[S any](o Options, slots []S) storing[S] {
	return storing[S]{slots: slots, edit: slots[0], write: o.FlashWrite, faulty: o.Faults.FalseStore}
}

func (s *storing[S]) memories() int { return len(s.slots) }

func (s *storing[S]) writes() int { return s.made }

// at is what a slot holds, or what sounds.
func (s *storing[S]) at(slot int) S {
	if slot == EditBuffer {
		return s.edit
	}
	return s.slots[slot]
}

// recall lets a slot sound.
func (s *storing[S]) recall(slot int) { s.edit = s.slots[slot] }

// store begins to write what sounds into a slot.
func (s *storing[S]) store(now time.Time, slot int) {
	s.slot, s.done = slot, now.Add(s.write)
}

// restart forgets what sounds and a write under way.
func (s *storing[S]) restart() { s.edit, s.done = s.slots[0], time.Time{} }

// protect: there is no switch for it.
func (s *storing[S]) protect(bool) {}

// busy tells that a write is under way.
func (s *storing[S]) busy() bool { return !s.done.IsZero() }

func (s *storing[S]) alarm() (time.Time, bool) { return s.done, s.busy() }

// wake ends the write. What sounds cannot have changed meanwhile: a unit that
// stores takes no messages.
func (s *storing[S]) wake(time.Time) {
	s.done = time.Time{}
	s.made++
	if !s.faulty.hits(s.made) {
		s.slots[s.slot] = s.edit
	}
}

// sevenBits tells whether bytes can be the values of controllers.
func sevenBits(rows ...[]byte) bool {
	for _, row := range rows {
		for _, b := range row {
			if b > 0x7F {
				return false
			}
		}
	}
	return true
}

// fourteenBits tells whether numbers can be sent in two halves.
func fourteenBits(numbers []int) bool {
	for _, n := range numbers {
		if n < 0 || n > 0x3FFF {
			return false
		}
	}
	return true
}
