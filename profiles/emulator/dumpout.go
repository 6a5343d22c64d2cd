package emulator

import "time"

// What the standard says of time: without an answer a sender goes on as if it
// had been told to.
const (
	headerTimeout = 200 * time.Millisecond
	packetTimeout = 50 * time.Millisecond
	// longestWait is how long the unit lets itself be told to wait.
	longestWait = time.Minute
)

// dumpOut is a memory on its way out.
type dumpOut struct {
	to      byte
	message []byte // the one that an answer is awaited for
	packet  int    // its number; before the first packet −1
	rest    []byte // of the memory
	errors  int    // in a row
	waiting bool   // told to wait
	until   time.Time
}

// dumpAskedFor: 7E dev 07 03 ss type name. What is not there is cancelled.
func (d *openParameter) dumpAskedFor(now time.Time, body []byte) {
	if len(body) < 5 {
		return
	}
	from, file := d.partner(body[4]), string(body[5:])
	slot, ok := memoryNamed(file)
	if !ok {
		d.answers.say(now, handshake(from, dumpCANCEL, 0)...)
		return
	}
	d.dumpIn = dumpIn{}
	d.dumpOut = dumpOut{to: from, packet: -1, rest: d.slots[slot].bytes()}
	d.sendDump(now, headerOf(from, d.unit, file[len(memoryType):], openBytes), headerTimeout)
}

// sendDump says a message of the dump and waits for its answer.
func (d *openParameter) sendDump(now time.Time, message []byte, timeout time.Duration) {
	d.answers.say(now, message...)
	d.dumpOut.message = message
	d.dumpOut.waiting = false
	d.dumpOut.until = d.answers.clear(now).Add(timeout)
}

// dumpAnswered: 7E dev kind packet. Late answers, to earlier packets, are passed
// over; the number counts for nothing in WAIT and CANCEL, and before the first
// packet.
func (d *openParameter) dumpAnswered(now time.Time, body []byte) {
	out := &d.dumpOut
	kind, number := body[2], int(body[3])
	current := out.packet < 0 || number == out.packet&0x7F
	switch {
	case kind == dumpCANCEL:
		d.dumpOut, d.dumpIn = dumpOut{}, dumpIn{}
	case out.until.IsZero():
	case kind == dumpWAIT:
		out.waiting, out.until = true, now.Add(longestWait)
	case kind == dumpACK && current:
		d.dumpFurther(now)
	case kind == dumpNAK && current:
		d.dumpAgain(now)
	}
}

// dumpFurther sends the next packet, or the end.
func (d *openParameter) dumpFurther(now time.Time) {
	out := &d.dumpOut
	if len(out.rest) == 0 {
		d.answers.say(now, handshake(out.to, dumpEOF, out.packet)...)
		d.dumpOut = dumpOut{}
		return
	}
	out.packet++
	out.errors = 0
	piece := out.rest[:min(packetBytes, len(out.rest))]
	out.rest = out.rest[len(piece):]
	d.sendDump(now, packetOf(out.to, out.packet, piece), packetTimeout)
}

func (d *openParameter) dumpAgain(now time.Time) {
	out := &d.dumpOut
	if out.errors++; out.errors == dumpErrors {
		d.answers.say(now, handshake(out.to, dumpCANCEL, max(out.packet, 0))...)
		d.dumpOut = dumpOut{}
		return
	}
	timeout := packetTimeout
	if out.packet < 0 {
		timeout = headerTimeout
	}
	d.sendDump(now, out.message, timeout)
}

// dumpOutWaited is the time-out: nobody answers, or somebody has waited for ever.
func (d *openParameter) dumpOutWaited(now time.Time) {
	if d.dumpOut.waiting {
		d.answers.say(now, handshake(d.dumpOut.to, dumpCANCEL, max(d.dumpOut.packet, 0))...)
		d.dumpOut = dumpOut{}
		return
	}
	d.dumpFurther(now)
}
