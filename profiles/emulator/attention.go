package emulator

import "time"

// attention is what a unit gives to the messages that are meant for it: none
// during the silence that it needs after each, none when it is dead, and none
// where a fault so orders.
type attention struct {
	silence   time.Duration
	faults    Faults
	taken     int // messages so far
	writing   int // that would write to the memory
	deafUntil time.Time
	falling   bool // a restart is ordered, but not yet made
}

func newAttention(o Options) attention { return attention{silence: o.Silence, faults: o.Faults} }

// deaf tells whether a message that begins now is lost.
func (a *attention) deaf(now time.Time) bool { return now.Before(a.deafUntil) }

// take counts a message for the unit that ends now, and tells whether it is
// to be obeyed.
func (a *attention) take(now time.Time) bool {
	if a.faults.DieAfter > 0 && a.taken >= a.faults.DieAfter {
		return false
	}
	a.taken++
	a.deafUntil = now.Add(a.silence)
	a.falling = a.faults.Reboot.hits(a.taken)
	return !a.faults.IgnoreMessage.hits(a.taken)
}

func (a *attention) falls() bool {
	falling := a.falling
	a.falling = false
	return falling
}

// restarted hears at once.
func (a *attention) restarted() { a.deafUntil = time.Time{} }

// refusesWrite counts the messages that would write to the memory, for the fault
// of that name.
func (a *attention) refusesWrite() bool {
	a.writing++
	return a.faults.RefuseWrites.hits(a.writing)
}
