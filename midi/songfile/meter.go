package songfile

import (
	"fmt"
	"math/bits"
)

// A Meter is a time signature: Beats to the bar, each a 1/Unit note.
type Meter struct {
	Beats int // 1 to 255
	Unit  int // 1, 2, 4 … 128
}

const (
	maxUnitBits = 7
	maxUnit     = 1 << maxUnitBits
	maxBeats    = 255
)

// commonTime holds until a file states another.
func commonTime() Meter { return Meter{4, 4} }

func (m Meter) String() string { return fmt.Sprintf("%d/%d", m.Beats, m.Unit) }

func (m Meter) check() error {
	if m.Beats < 1 || m.Beats > maxBeats || m.Unit < 1 || m.Unit > maxUnit || m.Unit&(m.Unit-1) != 0 {
		return fmt.Errorf("time signature %v: wanted 1 to %d beats of 1/1, 1/2, 1/4 … 1/%d", m, maxBeats, maxUnit)
	}
	return nil
}

// A MeterChange is a time signature that holds from a tick on. A bar begins
// there, whether the one before was full or not.
type MeterChange struct {
	At    Tick
	Meter Meter
}

// meterOf reads the data of a time signature. Its last two bytes, for a
// metronome and for notation, say nothing of time.
func meterOf(data []byte) (Meter, error) {
	if len(data) != 4 {
		return Meter{}, fmt.Errorf("time signature: wanted 4 bytes, got %d", len(data))
	}
	if data[1] > maxUnitBits {
		return Meter{}, fmt.Errorf("time signature: the beat is 1/2^%d note: wanted 1/%d at the finest", data[1], maxUnit)
	}
	m := Meter{int(data[0]), 1 << data[1]}
	return m, m.check()
}

// event is the time signature: the beat as a power of two, then how many MIDI
// clocks (24 a quarter) the metronome's click has, which is a beat or, where beats
// go by threes, a dotted one, then 32nd notes a quarter.
func (m Meter) event(at Tick) Event {
	click := 96 / m.Unit
	if m.Beats%3 == 0 && m.Beats > 3 && m.Unit >= 8 {
		click *= 3
	}
	return Event{at, []byte{isMeta, byte(metaTimeSignature), byte(m.Beats), byte(bits.TrailingZeros(uint(m.Unit))), byte(max(click, 1)), 8}}
}
