package emulator

import "time"

// longestPause between two messages of a dump that comes in; after it the unit
// has forgotten the dump.
const longestPause = 2 * time.Second

// dumpIn is a memory on its way in.
type dumpIn struct {
	from   byte
	slot   int
	bytes  []byte
	packet int  // the number of the next one
	errors int  // in a row
	held   bool // the packet is good, but the sender was told to wait
	until  time.Time
}

// dumpBegins: 7E dev 07 01 ss type length name. Another file, or one of another
// length, is cancelled; length 0 says that it is not known yet.
func (d *openParameter) dumpBegins(now time.Time, body []byte) {
	const typeAt, lengthAt, nameAt = 5, 9, 13
	if len(body) < nameAt {
		return
	}
	from := d.partner(body[4])
	slot, ok := memoryNamed(string(body[typeAt:lengthAt]) + string(body[nameAt:]))
	length := 0
	for i, b := range body[lengthAt:nameAt] {
		length |= int(b) << (7 * i)
	}
	d.dumpOut, d.dumpIn = dumpOut{}, dumpIn{}
	if !ok || length != 0 && length != openBytes || d.refusesWrite() {
		d.answers.say(now, handshake(from, dumpCANCEL, 0)...)
		return
	}
	d.dumpIn = dumpIn{from: from, slot: slot, until: now.Add(longestPause)}
	d.answers.say(now, handshake(from, dumpACK, 0)...)
}

// dumpGoesOn: 7E dev 07 02 number count packed sum. It is told by no number of
// its sender's: it belongs to the dump that has begun.
func (d *openParameter) dumpGoesOn(now time.Time, body []byte) {
	in := &d.dumpIn
	if in.until.IsZero() || in.held {
		return
	}
	number, piece, ok := pieceOf(body)
	in.until = now.Add(longestPause)
	switch {
	case !ok && in.errors+1 < dumpErrors:
		in.errors++
		d.answers.say(now, handshake(in.from, dumpNAK, in.packet)...)
	case !ok, number != in.packet&0x7F, len(in.bytes)+len(piece) > openBytes, !d.acceptable(piece):
		d.cancelDumpIn(now)
	case d.faults.LongWrite > 0:
		in.bytes = append(in.bytes, piece...)
		in.held, in.until = true, now.Add(d.faults.LongWrite)
		d.answers.say(now, handshake(in.from, dumpWAIT, in.packet)...)
	default:
		in.bytes = append(in.bytes, piece...)
		d.takePacket(now)
	}
}

// acceptable: where the piece makes the memory whole, its codes are those of the
// manual.
func (d *openParameter) acceptable(piece []byte) bool {
	whole := append(d.dumpIn.bytes[:len(d.dumpIn.bytes):len(d.dumpIn.bytes)], piece...)
	if len(whole) < openBytes {
		return true
	}
	_, ok := openSoundOf(whole)
	if !ok {
		return false
	}
	d.valued++
	return !d.faults.RefuseValues.hits(d.valued)
}

func (d *openParameter) takePacket(now time.Time) {
	in := &d.dumpIn
	d.answers.say(now, handshake(in.from, dumpACK, in.packet)...)
	in.packet++
	in.errors, in.held, in.until = 0, false, now.Add(longestPause)
}

func (d *openParameter) cancelDumpIn(now time.Time) {
	d.answers.say(now, handshake(d.dumpIn.from, dumpCANCEL, d.dumpIn.packet)...)
	d.dumpIn = dumpIn{}
}

// dumpEnds writes the memory, if it has come whole. That needs no answer.
func (d *openParameter) dumpEnds(time.Time, []byte) {
	in := d.dumpIn
	d.dumpIn = dumpIn{}
	if len(in.bytes) != openBytes || in.held {
		return
	}
	d.stored++
	if s, ok := openSoundOf(in.bytes); ok && !d.faults.FalseStore.hits(d.stored) {
		d.slots[in.slot] = d.keep(s, d.slots[in.slot])
	}
}

// dumpInWaited is the time-out: the wait that was asked for is over, or nothing
// more has come.
func (d *openParameter) dumpInWaited(now time.Time) {
	if d.dumpIn.held {
		d.takePacket(now)
		return
	}
	d.dumpIn = dumpIn{}
}
