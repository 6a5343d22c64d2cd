package emulator

import (
	"fmt"
	"time"
)

const tapLoopTaps = 8

// tapLoop is the firmware of the tap-loop unit.
type tapLoop struct {
	attention
	storing[tapSound]
	ear   channelEar
	entry dataEntry
}

// tapSound is the codes of one sound, as they came.
type tapSound struct {
	time            [tapLoopTaps]int
	level, polarity [tapLoopTaps]byte
	amount, tap     byte // of the feedback
	highCut, dry    byte
}

func newTapLoop(o Options, _ *output) firmware {
	return &tapLoop{
		attention: newAttention(o), storing: newStoring(o, tapLoopFactory()),
		ear: newChannelEar(o), entry: noEntry(),
	}
}

// read: while it stores it reads nothing, and waits for a status byte after that.
func (d *tapLoop) read(now time.Time, b byte) {
	if d.busy() {
		return
	}
	m, whole := d.ear.next(b, d.deaf(now))
	if !whole || !d.take(now) {
		return
	}
	switch m.kind {
	case controlChange:
		d.control(now, m.first, m.second)
	case programChange:
		d.recall(int(m.first))
	}
}

func (d *tapLoop) restart() {
	d.restarted()
	d.storing.restart()
	d.ear.forget()
	d.entry = noEntry()
}

// storeControl is the controller whose value is the memory to store in.
const storeControl = 119

func (d *tapLoop) control(now time.Time, number, value byte) {
	if number == storeControl {
		if !d.refusesWrite() {
			d.ear.forget()
			d.store(now, int(value))
		}
		return
	}
	if place := d.edit.place(number, value); place != nil {
		*place = value
		return
	}
	d.entry.control(number, value, d.edit.enter)
}

// place is where the value of a controller goes, if it goes anywhere.
func (s *tapSound) place(number, value byte) *byte {
	const level, polarity = 16, 102
	switch {
	case number >= level && number < level+tapLoopTaps:
		return &s.level[number-level]
	case number >= polarity && number < polarity+tapLoopTaps:
		return &s.polarity[number-polarity]
	case number == 85:
		return &s.amount
	case number == 86 && value < tapLoopTaps:
		return &s.tap
	case number == 87:
		return &s.highCut
	case number == 88:
		return &s.dry
	}
	return nil
}

// enter is data entry for parameter 01h:i. Without a high byte the low one
// changes the low 7 bits alone.
func (s *tapSound) enter(parameter, high, low int) {
	const times = 1 << 7
	i := parameter - times
	if i < 0 || i >= tapLoopTaps {
		return
	}
	if high < 0 {
		high = s.time[i] >> 7
	}
	s.time[i] = high<<7 | low
}

func (s tapSound) parameters() []parameter {
	var all []parameter
	for i := range tapLoopTaps {
		tap := fmt.Sprintf("tap %d ", i)
		all = append(all, parameter{tap + "time", s.time[i]},
			parameter{tap + "level", int(s.level[i])}, parameter{tap + "polarity", int(s.polarity[i])})
	}
	return append(all, parameter{"feedback amount", int(s.amount)}, parameter{"feedback tap", int(s.tap)},
		parameter{"high cut", int(s.highCut)}, parameter{"dry level", int(s.dry)})
}

// put is the way back from parameters.
func (d *tapLoop) put(slot int, codes []int) bool {
	s := &d.slots[slot]
	rest := codes[3*tapLoopTaps:]
	for i := range tapLoopTaps {
		s.time[i] = codes[3*i]
		s.level[i], s.polarity[i] = byte(codes[3*i+1]), byte(codes[3*i+2])
	}
	s.amount, s.tap, s.highCut, s.dry = byte(rest[0]), byte(rest[1]), byte(rest[2]), byte(rest[3])
	return s.tap < tapLoopTaps && sevenBits(s.level[:], s.polarity[:], []byte{s.amount, s.highCut, s.dry}) && fourteenBits(s.time[:])
}

// tapLoopFactory is the memory as it leaves the maker: one tap to eight, evenly
// spaced, wider and duller from memory to memory, the loop from the last one.
func tapLoopFactory() []tapSound {
	const sizes, stepsPerMilli = 16, 8
	slots := make([]tapSound, sizes*tapLoopTaps)
	for n := range slots {
		last, size := n/sizes, n%sizes
		s := tapSound{amount: byte(20 + 3*size), tap: byte(last), highCut: byte(127 - 4*size), dry: 127}
		for i := range tapLoopTaps {
			s.time[i] = (60*stepsPerMilli + 60*size) * (i + 1)
			if i <= last {
				s.level[i] = byte(127 - 6*i)
			}
		}
		slots[n] = s
	}
	return slots
}
