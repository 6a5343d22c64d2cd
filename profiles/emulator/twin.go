package emulator

import (
	"fmt"
	"time"

	"echowright/preset"
)

const twinLines = 2

// How its presets are counted: bank·100 + program.
const (
	twinBanks    = 2
	twinPrograms = 100
)

// twin is the firmware of the unit with two independent lines.
type twin struct {
	attention
	storing[twinSound]
	ear      channelEar
	bank     int // the one that the next Program Change selects from
	selected int // the preset selected last
	clock    clock
}

// twinSound is the codes of one sound.
type twinSound struct {
	time                     [twinLines]int
	level, feedback, clocked [twinLines]byte
	mix                      byte
}

func newTwin(o Options, _ *output) firmware {
	return &twin{attention: newAttention(o), storing: newStoring(o, twinFactory()), ear: newChannelEar(o)}
}

// read: while it stores it reads nothing, and waits for a status byte after that.
func (d *twin) read(now time.Time, b byte) {
	if d.busy() {
		return
	}
	if b == timingClock {
		d.clock.tick(now)
	}
	m, whole := d.ear.next(b, d.deaf(now))
	if !whole || !d.take(now) {
		return
	}
	switch m.kind {
	case controlChange:
		d.control(now, m.first, m.second)
	case programChange:
		d.program(int(m.first))
	}
}

func (d *twin) restart() {
	d.restarted()
	d.storing.restart()
	d.ear.forget()
	d.bank, d.selected, d.clock = 0, 0, clock{}
}

func (d *twin) control(now time.Time, number, value byte) {
	switch {
	case number == 118 && value == 127:
		if !d.refusesWrite() {
			d.ear.forget()
			d.store(now, d.selected)
		}
	case number == 0:
		d.bank = withHigh(value)
	case number == 32:
		d.bank = withLow(d.bank, value)
	default:
		d.edit.control(number, value)
	}
}

// program selects a preset and lets it sound, if there is one.
func (d *twin) program(number int) {
	if d.bank < twinBanks && number < twinPrograms {
		d.selected = d.bank*twinPrograms + number
		d.recall(d.selected)
	}
}

// control: the controllers of line 2 stand next to those of line 1.
func (s *twinSound) control(number, value byte) {
	switch n := number & 1; number {
	case 12, 13:
		s.time[n] = withHigh(value)
	case 44, 45:
		s.time[n] = withLow(s.time[n], value)
	case 80, 81:
		s.level[n] = value
	case 82, 83:
		s.feedback[n] = value
	case 14, 15:
		if int(value) < len(noteValues) {
			s.clocked[n] = value
		}
	case 84:
		s.mix = value
	}
}

// withHigh is a number of 14 bits of which the high byte has come: that sets the
// low one to zero.
func withHigh(high byte) int { return int(high) << 7 }

// withLow changes the low 7 bits.
func withLow(number int, low byte) int { return number&^0x7F | int(low) }

func (s twinSound) parameters() []parameter {
	var all []parameter
	for n := range twinLines {
		line := fmt.Sprintf("line %d ", n+1)
		all = append(all, parameter{line + "time", s.time[n]}, parameter{line + "level", int(s.level[n])},
			parameter{line + "feedback", int(s.feedback[n])}, parameter{line + "clocked time", int(s.clocked[n])})
	}
	return append(all, parameter{"mix", int(s.mix)})
}

// put is the way back from parameters.
func (d *twin) put(slot int, codes []int) bool {
	const each = 4
	s := &d.slots[slot]
	for n := range twinLines {
		line := codes[each*n:]
		s.time[n] = line[0]
		s.level[n], s.feedback[n], s.clocked[n] = byte(line[1]), byte(line[2]), byte(line[3])
	}
	s.mix = byte(codes[each*twinLines])
	return max(s.clocked[0], s.clocked[1]) < byte(len(noteValues)) &&
		sevenBits(s.level[:], s.feedback[:], []byte{s.mix}) && fourteenBits(s.time[:])
}

func (d *twin) sound(slot int) Sound {
	s, quarter := d.at(slot), d.clock.quarter
	return Sound{
		unit: twinName, codes: s.parameters(), dry: 1,
		arrivals: func(limit preset.Millis) ([]arrival, error) { return s.arrivals(quarter, limit), nil },
	}
}

// twinFactory is the memory as it leaves the maker: a short line and a longer
// one, farther apart from preset to preset; in the second bank both are clocked.
func twinFactory() []twinSound {
	slots := make([]twinSound, twinBanks*twinPrograms)
	for n := range slots {
		bank, program := n/twinPrograms, n%twinPrograms
		slots[n] = twinSound{
			time:     [twinLines]int{1500 + 40*program, 2600 + 95*program},
			level:    [twinLines]byte{118, byte(110 - program/4)},
			feedback: [twinLines]byte{byte(20 + program/3), byte(60 - program/4)},
			clocked:  [twinLines]byte{byte(bank * (1 + program%9)), byte(bank * (1 + program%11))},
			mix:      byte(90 + program%30),
		}
	}
	return slots
}
