package emulator

import (
	"slices"
	"time"
)

// maxAnswers is how many answers can wait for the wire.
const maxAnswers = 16

// output is the row of answers waiting for the wire, and the faults that befall
// them.
type output struct {
	faults  Faults
	errors  bitErrors
	answers int // given so far
	waiting []answer
	free    time.Time // when the wire can take the next byte
}

func newOutput(f Faults) *output {
	return &output{faults: f, errors: newBitErrors(f.BitErrorsOut, f.Seed, 1)}
}

// switchOff loses what waits.
func (o *output) switchOff() { o.waiting = nil }

type answer struct {
	ready time.Time
	bytes []byte
}

// say hands an answer over at time now.
func (o *output) say(now time.Time, message ...byte) {
	o.answers++
	f, n := o.faults, o.answers
	if f.Mute || f.LoseAnswer.hits(n) {
		return
	}
	if f.CorruptAnswer.hits(n) {
		message = slices.Clone(message) // the firmware may have kept it
		message[len(message)-3] ^= 1
	}
	if f.LateAnswer.hits(n) {
		now = now.Add(f.LateBy)
	}
	if f.Rubbish.hits(n) {
		message = amongRubbish(message)
	}
	message = o.errors.pass(message)
	o.wait(now, message)
	if f.DoubleAnswer.hits(n) {
		o.wait(now, message)
	}
}

func (o *output) wait(ready time.Time, message []byte) {
	if len(o.waiting) < maxAnswers {
		o.waiting = append(o.waiting, answer{ready, message})
	}
}

// amongRubbish is the message after stray data bytes and a message of somebody
// else that breaks off, with clock and active sensing between its bytes.
func amongRubbish(message []byte) []byte {
	noisy := []byte{0x55, 0x2A, 0xF0, 0x7D, 0x7F, 0x33}
	for i, b := range message {
		noisy = append(noisy, b)
		if i%3 == 0 {
			noisy = append(noisy, 0xF8, 0xFE)
		}
	}
	return noisy
}

// clear is when all that waits has left the unit, seen from now.
func (o *output) clear(now time.Time) time.Time {
	at := later(now, o.free)
	for _, a := range o.waiting {
		at = later(at, a.ready).Add(byteTime * time.Duration(len(a.bytes)))
	}
	return at
}

// first is which answer goes next: the one that was ready first.
func (o *output) first() int {
	first := -1
	for i, a := range o.waiting {
		if first < 0 || a.ready.Before(o.waiting[first].ready) {
			first = i
		}
	}
	return first
}

// next is when the next piece has left the unit, if one is waiting.
func (o *output) next() (time.Time, bool) {
	i := o.first()
	if i < 0 {
		return time.Time{}, false
	}
	a := o.waiting[i]
	return later(a.ready, o.free).Add(byteTime * time.Duration(o.piece(a))), true
}

// piece is how many bytes of an answer leave together.
func (o *output) piece(a answer) int {
	if o.faults.SingleBytes {
		return 1
	}
	return len(a.bytes)
}

// take is the piece that next told of.
func (o *output) take() []byte {
	o.free, _ = o.next()
	i := o.first()
	a := &o.waiting[i]
	n := o.piece(*a)
	piece := a.bytes[:n:n]
	a.bytes = a.bytes[n:]
	if len(a.bytes) == 0 {
		o.waiting = slices.Delete(o.waiting, i, i+1)
	}
	return piece
}
