package emulator

import "time"

const (
	// byteTime is ten bits at 31 250 a second.
	byteTime = 320 * time.Microsecond
	// inputBuffer is what the input buffer holds.
	inputBuffer = 256
)

// input is the buffer between wire and firmware, which is read at wire speed.
type input struct {
	waiting []received
	free    time.Time // when the firmware can read the next byte
	each    time.Duration
	holds   int
	errors  bitErrors
	lose    Nth
	arrived int       // bytes so far
	off     time.Time // until then nobody takes them
}

func newInput(f Faults) input {
	in := input{each: byteTime, holds: inputBuffer, lose: f.LoseByte, errors: newBitErrors(f.BitErrorsIn, f.Seed, 0)}
	if f.SlowReading > 0 {
		in.each = f.SlowReading
	}
	if f.Buffer > 0 {
		in.holds = f.Buffer
	}
	return in
}

type received struct {
	at time.Time
	b  byte
}

// arrive puts bytes into the buffer; what finds it full is lost.
func (in *input) arrive(now time.Time, bytes []byte) {
	for _, b := range in.errors.pass(bytes) {
		in.arrived++
		if len(in.waiting) < in.holds && !in.lose.hits(in.arrived) && !now.Before(in.off) {
			in.waiting = append(in.waiting, received{now, b})
		}
	}
}

// switchOff loses what waits, and what comes until then.
func (in *input) switchOff(until time.Time) { in.waiting, in.off = nil, until }

// next is when the next byte is read, if one is waiting.
func (in *input) next() (time.Time, bool) {
	if len(in.waiting) == 0 {
		return time.Time{}, false
	}
	return later(in.waiting[0].at, in.free), true
}

// read takes the byte that next told of.
func (in *input) read() byte {
	at, _ := in.next()
	b := in.waiting[0].b
	in.waiting = in.waiting[1:]
	in.free = at.Add(in.each)
	return b
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
