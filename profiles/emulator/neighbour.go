package emulator

import "time"

// pair is a unit and its neighbour on the same line, which does the same for
// somebody else at the same time.
type pair struct {
	firmware
	neighbour firmware
}

// withNeighbour lets another unit stand beside, healthy, with the next number and
// in each slot what the unit has in the following one. It takes what is said to
// the unit for itself, as if somebody else said it to it at the same time; its
// answers carry the other numbers.
func withNeighbour(unit firmware, m model, o Options, out *output) firmware {
	o.Faults = Faults{}
	neighbour := m.start(o, out)
	if d, ok := neighbour.(interface{ move() }); ok {
		d.move()
	}
	for slot := range unit.memories() {
		var codes []int
		for _, p := range unit.sound((slot + 1) % unit.memories()).codes {
			codes = append(codes, p.code)
		}
		neighbour.put(slot, codes)
	}
	neighbour.recall(0)
	return &pair{unit, neighbour}
}

// nextNumber is a unit number, or that of a partner, beside another one.
func nextNumber(n byte) byte { return (n + 1) & 0x0F }

func (p *pair) read(now time.Time, b byte) {
	p.neighbour.read(now, b)
	p.firmware.read(now, b)
}

// alarm is the earlier one.
func (p *pair) alarm() (time.Time, bool) {
	at, ok := p.firmware.alarm()
	if theirs, rings := p.neighbour.alarm(); rings && (!ok || !theirs.After(at)) {
		return theirs, true
	}
	return at, ok
}

func (p *pair) wake(now time.Time) {
	for _, d := range []firmware{p.neighbour, p.firmware} {
		if at, ok := d.alarm(); ok && !at.After(now) {
			d.wake(now)
		}
	}
}
