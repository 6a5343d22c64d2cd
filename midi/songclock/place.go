package songclock

// place counts the clocks of a song.
type place struct {
	running bool
	clocks  int
	missing int
	doubled int
}

// start goes to the beginning; the next clock is the first (MIDI 1.0 Detailed
// Specification 4.2.1, page 30).
func (p *place) start() { p.running, p.clocks = true, 0 }

// point takes a song position, low 7 bits first. It means something only while
// stopped (page 27 there).
func (p *place) point(low, high byte) {
	if !p.running && low < 0x80 && high < 0x80 {
		p.clocks = PerPosition * (int(high)<<7 | int(low))
	}
}

// count takes a clock that is so many steps after the last.
func (p *place) count(steps int) {
	if p.running {
		p.clocks += steps
	}
	p.missed(steps - 1)
}

// correct adds clocks that were found to be missing, or takes away doubled ones.
func (p *place) correct(more int) {
	if p.running {
		p.clocks = max(0, p.clocks+more)
	}
	p.missed(more)
}

func (p *place) missed(more int) {
	if more > 0 {
		p.missing += more
	} else {
		p.doubled -= more
	}
}
