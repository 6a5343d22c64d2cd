package emulator

import "time"

// The bytes that the unit knows itself by.
const (
	maker    = 0x7D
	family   = 0x05
	allUnits = 0x7F
)

// Commands from the unit; those to it stand in the table.
const (
	tellParameter = 0x12
	tellSlot      = 0x21
	refused       = 0x7E
	acknowledged  = 0x7F
)

// reason is why a message is refused.
type reason byte

const (
	fine           reason = 0x00
	badChecksum    reason = 0x01
	badPlace       reason = 0x02 // address or slot
	badValue       reason = 0x03
	badRouting     reason = 0x04
	writeProtected reason = 0x05
	busy           reason = 0x06
)

// command is one that the unit obeys: how many data bytes it has, whether they
// begin with a slot and whether it writes to the flash memory.
type command struct {
	length int
	slot   bool
	writes bool
	obey   func(d *fiveLine, now time.Time, data []byte) reason
}

const packedSize = 110

var commands = map[byte]command{
	0x10: {length: 4, obey: (*fiveLine).setParameter},
	0x11: {length: 2, obey: (*fiveLine).askParameter},
	0x20: {length: 1, slot: true, obey: (*fiveLine).askSlot},
	0x22: {length: 1 + packedSize, slot: true, writes: true, obey: (*fiveLine).overwriteSlot},
	0x30: {length: 1, slot: true, writes: true, obey: (*fiveLine).storeEdit},
	0x31: {length: 1, slot: true, obey: (*fiveLine).loadEdit},
}

// message deals with what stood between F0 and F7, if it is for this unit.
func (d *fiveLine) message(now time.Time, body []byte) {
	asked := asksIdentity(body) && d.called(body[1])
	ours := len(body) >= 3 && body[0] == maker && body[1] == family && d.called(body[2])
	switch {
	case !asked && !ours, !d.take(now):
	case asked:
		d.answers.say(now, d.identity(d.unit, family)...)
	case len(body) >= 5:
		d.command(now, body[3:])
	}
}

func (d *fiveLine) called(unit byte) bool { return unit == d.hears || unit == allUnits }

// command takes the bytes from the command to the checksum; the order of the
// checks is the manual's.
func (d *fiveLine) command(now time.Time, rest []byte) {
	name, data := rest[0], rest[1:len(rest)-1]
	c, known := commands[name]
	switch {
	case d.flash != nil:
		d.refuse(now, name, busy)
	case sum7(rest) != 0:
		d.refuse(now, name, badChecksum)
	case !known || len(data) != c.length:
	case c.slot && data[0] >= fiveLineSlots:
		d.refuse(now, name, badPlace)
	case c.writes && (d.protected || d.refusesWrite()):
		d.refuse(now, name, writeProtected)
	default:
		if why := c.obey(d, now, data); why != fine {
			d.refuse(now, name, why)
		}
	}
}

// say answers with a command and its data, framed and with its checksum.
func (d *fiveLine) say(now time.Time, rest ...byte) {
	message := append([]byte{0xF0, maker, family, d.unit}, rest...)
	message = append(message, -sum7(rest)&0x7F, 0xF7)
	d.answers.say(now, message...)
}

func (d *fiveLine) acknowledge(now time.Time, command byte) { d.say(now, acknowledged, command) }

func (d *fiveLine) refuse(now time.Time, command byte, why reason) {
	d.say(now, refused, command, byte(why))
}

// setParameter is 10h: address high, low, value high, low.
func (d *fiveLine) setParameter(now time.Time, data []byte) reason {
	f, ok := find(number14(data))
	if !ok {
		return badPlace
	}
	changed, code := d.edit, number14(data[2:])
	changed.set(f, code)
	switch {
	case code < f.min || code > f.max:
		return badValue
	case changed.looped():
		return badRouting
	case d.refusesValues():
		return badValue
	}
	d.keep(&changed, &d.edit)
	d.edit = changed
	d.acknowledge(now, 0x10)
	return fine
}

// askParameter is 11h: address high, low.
func (d *fiveLine) askParameter(now time.Time, data []byte) reason {
	f, ok := find(number14(data))
	if !ok {
		return badPlace
	}
	code := d.edit.get(f)
	d.say(now, tellParameter, data[0], data[1], byte(code>>7), byte(code&0x7F))
	return fine
}

// askSlot is 20h.
func (d *fiveLine) askSlot(now time.Time, data []byte) reason {
	slot := data[0]
	d.say(now, append([]byte{tellSlot, slot}, pack(d.slots[slot][:])...)...)
	return fine
}

// overwriteSlot is 22h: slot, the memory packed.
func (d *fiveLine) overwriteSlot(now time.Time, data []byte) reason {
	slot, sent := int(data[0]), memory(unpack(data[1:]))
	if !sent.sealed() {
		return badChecksum
	}
	d.keep(&sent, &d.slots[slot])
	sent.seal()
	if why := sent.wrong(); why != fine {
		return why
	}
	if d.refusesValues() {
		return badValue
	}
	d.startWrite(now, 0x22, slot, sent)
	return fine
}

// storeEdit is 30h.
func (d *fiveLine) storeEdit(now time.Time, data []byte) reason {
	sealed := d.edit
	sealed.seal()
	d.startWrite(now, 0x30, int(data[0]), sealed)
	return fine
}

// loadEdit is 31h.
func (d *fiveLine) loadEdit(now time.Time, data []byte) reason {
	d.edit = d.slots[data[0]]
	d.acknowledge(now, 0x31)
	return fine
}

func (d *fiveLine) startWrite(now time.Time, command byte, slot int, content memory) {
	d.flash = &flashWrite{command, slot, content, now.Add(d.write)}
}

// refusesValues counts the messages with values for the fault of that name.
func (d *fiveLine) refusesValues() bool {
	d.valued++
	return d.faults.RefuseValues.hits(d.valued)
}

// keep puts the old codes of the parameters that are ordered to stay among the
// new ones.
func (d *fiveLine) keep(changed, old *memory) {
	for _, address := range d.faults.Keep {
		f, _ := find(address)
		changed.set(f, old.get(f))
	}
}

// number14 is a number sent high 7 bits first.
func number14(data []byte) int { return int(data[0])<<7 | int(data[1]) }
