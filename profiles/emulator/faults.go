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
// from power-up. Write protection is no illness but a switch: see [Options].
type Faults struct {
	// Of the answers, acknowledges included:
	LoseAnswer    Nth           // it never comes
	CorruptAnswer Nth           // the lowest bit of the byte before its checksum is turned over
	DoubleAnswer  Nth           // it comes twice
	LateAnswer    Nth           // it comes after LateBy
	LateBy        time.Duration //
	Rubbish       Nth           // stray bytes and an unfinished message come before it, real-time bytes stand in it
	SingleBytes   bool          // all of them come in pieces of one byte
	Mute          bool          // none of them comes, though the unit does what it is told

	// Of what comes in:
	LoseByte      Nth           // the byte never arrives
	IgnoreMessage Nth           // the message that it should obey goes by unheard
	SlowReading   time.Duration // it takes this long to read a byte, not 320 µs

	// Of what the unit does:
	RefuseValues  Nth           // the message with values (10h, 22h; counted where nothing else is wrong) is refused as 03h
	FalseStore    Nth           // the flash write (22h, 30h) is acknowledged but not made
	LongWrite     time.Duration // a flash write takes this long
	Keep          []int         // parameter addresses that 10h and 22h leave as they were, without a word
	DieAfter      int           // messages addressed to it after which it is dead; 0: it lives
	WrongIdentity bool          // it says that it is of family 0007h
}

func (f Faults) check(unit string) error {
	if f.LateBy < 0 || f.LongWrite < 0 || f.SlowReading < 0 || f.DieAfter < 0 {
		return fmt.Errorf("fault: late by %v, write of %v, %v for a byte, death after %d messages: none may be negative",
			f.LateBy, f.LongWrite, f.SlowReading, f.DieAfter)
	}
	if len(f.Keep) > 0 && unit != fiveLineName {
		return fmt.Errorf("fault: parameters to keep are named by their addresses, and it has none")
	}
	for _, address := range f.Keep {
		if _, ok := find(address); !ok {
			return fmt.Errorf("fault: keep address %02Xh: the unit has no such parameter", address)
		}
	}
	return nil
}
