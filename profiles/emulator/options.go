package emulator

import (
	"fmt"
	"strings"
	"time"
)

// fiveLine is the name that the five-line unit goes by.
const fiveLine = "five-line"

// What the manual says of time; the flash write is "up to 300 ms".
const (
	defaultSilence    = 4 * time.Millisecond
	defaultFlashWrite = 250 * time.Millisecond
	longestFlashWrite = 300 * time.Millisecond
)

// Options say how a unit is set up before power is switched on. The zero value
// is a healthy unit number 0 without write protection.
type Options struct {
	Unit           int  // unit number, 0 to 15
	WriteProtected bool // the switch at the back; see FiveLine.Protect

	// FlashWrite is how long a write takes, up to 300 ms; 0 stands for 250 ms.
	FlashWrite time.Duration

	// Silence is what the unit needs after each message; 0 stands for the manual's
	// 4 ms. Where bytes are served in real time, arrivals are known no better than
	// the computer's scheduler lets them be: 2 ms never costs a message to a sender
	// that waits for its answers, since the shortest one takes 2.56 ms on the wire.
	Silence time.Duration

	Faults Faults
}

// Names lists the hardware there is an emulator for.
func Names() []string { return []string{fiveLine} }

// New is the named hardware, just switched on, with its factory memory.
func New(name string, o Options) (*FiveLine, error) {
	if name != fiveLine {
		return nil, fmt.Errorf("no emulator for %q; there is one for: %s", name, strings.Join(Names(), ", "))
	}
	o, err := o.complete()
	if err != nil {
		return nil, fmt.Errorf("emulator %s: %w", name, err)
	}
	return newFiveLine(o), nil
}

func (o Options) complete() (Options, error) {
	switch {
	case o.Unit < 0 || o.Unit > 15:
		return o, fmt.Errorf("unit number %d: must lie from 0 to 15", o.Unit)
	case o.FlashWrite < 0 || o.FlashWrite > longestFlashWrite:
		return o, fmt.Errorf("flash write of %v: takes up to %v; a longer one is a fault to order", o.FlashWrite, longestFlashWrite)
	case o.Silence < 0:
		return o, fmt.Errorf("silence of %v: must not be negative", o.Silence)
	}
	if o.FlashWrite == 0 {
		o.FlashWrite = defaultFlashWrite
	}
	if o.Silence == 0 {
		o.Silence = defaultSilence
	}
	return o, o.Faults.check()
}
