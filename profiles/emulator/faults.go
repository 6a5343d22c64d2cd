package emulator

import (
	"fmt"
	"time"
)

// Nth says which of a row of events an order is for: n the n-th alone (from 1),
// 0 none of them, [Every] all.
type Nth int

// Every orders a fault for each event.
const Every Nth = -1

func (n Nth) hits(event int) bool { return n == Every || n > 0 && int(n) == event }

// Faults are illnesses to order; the zero value is health. Events are counted
// from power-up, a restart does not begin again. See also [FaultKinds].
type Faults struct {
	// Of the answers, acknowledges included:
	LoseAnswer    Nth           // it never comes
	CorruptAnswer Nth           // the lowest bit of the byte before its checksum is turned over; in a handshake of File Dump it becomes another one
	DoubleAnswer  Nth           // it comes twice
	LateAnswer    Nth           // it comes after LateBy
	LateBy        time.Duration //
	Rubbish       Nth           // stray bytes and an unfinished message come before it, real-time bytes stand in it
	SingleBytes   bool          // all of them come in pieces of one byte
	Mute          bool          // none of them comes, though the unit does what it is told
	BitErrorsOut  float64       // the share of their bytes of which one bit, any, is turned over: from 0 to 1
	Neighbour     bool          // before each, another unit with the next number says the same to somebody else, of memories of its own

	// Of what comes in:
	LoseByte      Nth           // the byte never arrives
	BitErrorsIn   float64       // as BitErrorsOut
	IgnoreMessage Nth           // the message that it should obey goes by unheard
	SlowReading   time.Duration // it takes this long to read a byte, not 320 µs
	Buffer        int           // its input holds so many bytes; 0 stands for 256

	// Of what the unit does:
	RefuseValues  Nth           // the message with values (10h, 22h; counted where nothing else is wrong) is refused as 03h, the dump cancelled at its end
	RefuseWrites  Nth           // the write to the memory is refused as write-protected (05h), the dump cancelled at its beginning, the store passed over
	FalseStore    Nth           // the flash write (22h, 30h) is acknowledged but not made
	LongWrite     time.Duration // a flash write takes this long
	Keep          []int         // what 10h and 22h, or a dump, leave as it was, without a word: parameter addresses; of the open-parameter unit places in Sound.Parameters, from 0
	DieAfter      int           // messages addressed to it after which it is dead; 0: it lives
	Reboot        Nth           // having obeyed the message it restarts: what waits to be read or to be said, what sounds and a write under way are lost
	RebootFor     time.Duration // for so long it then hears nothing; 0 stands for 1.5 s
	WrongIdentity bool          // it says that it is of family 0007h, or what is two above its own

	Seed uint64 // of what is left to chance
}

const usualReboot = 1500 * time.Millisecond

func (f Faults) check(unit string) error {
	switch {
	case f.LateBy < 0 || f.LongWrite < 0 || f.SlowReading < 0 || f.DieAfter < 0 || f.RebootFor < 0 || f.Buffer < 0:
		return fmt.Errorf("fault: late by %v, write of %v, %v for a byte, death after %d messages, restart for %v, buffer of %d bytes: none may be negative",
			f.LateBy, f.LongWrite, f.SlowReading, f.DieAfter, f.RebootFor, f.Buffer)
	case !share(f.BitErrorsIn) || !share(f.BitErrorsOut):
		return fmt.Errorf("fault: bit errors in %v and %v of the bytes: must lie from 0 to 1", f.BitErrorsIn, f.BitErrorsOut)
	}
	if unit != fiveLineName && unit != openParameterName {
		if len(f.Keep) > 0 {
			return fmt.Errorf("fault: parameters to keep are named by their addresses, and it has none")
		}
		if f.Neighbour {
			return fmt.Errorf("fault: a neighbour is told by its unit number, and it has none")
		}
		return nil
	}
	for _, address := range f.Keep {
		known := address < len(openSound{}.parameters())
		if unit == fiveLineName {
			_, known = find(max(address, 0))
		}
		if address < 0 || !known {
			return fmt.Errorf("fault: keep address %02Xh: the unit has no such parameter; its manual lists them, by hexadecimal numbers: write keep=0x10 for 10h", address)
		}
	}
	return nil
}

func share(x float64) bool { return x >= 0 && x <= 1 }
