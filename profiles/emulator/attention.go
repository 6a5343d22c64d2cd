package emulator

import "time"

// attention is what a unit gives to the messages that are meant for it: none
// during the silence that it needs after each, none when it is dead, and none
// where a fault so orders.
type attention struct {
	silence   time.Duration
	faults    Faults
	taken     int // messages so far
	deafUntil time.Time
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
	return !a.faults.IgnoreMessage.hits(a.taken)
}
