package emulator

import (
	"time"

	"echowright/preset"
)

const (
	timingClock = 0xF8
	// clocksPerQuarter is what the MIDI clock sends for a quarter note.
	clocksPerQuarter = 24
	// clockPause is so long that the clock must have stopped: at 10 beats a minute
	// it comes each 250 ms.
	clockPause = 300 * time.Millisecond
)

// clock follows the MIDI clock: a quarter note is as long as the last 24 clocks
// took, and where fewer have come, as long as they make it.
type clock struct {
	heard   []time.Time
	quarter preset.Millis // 0 before two clocks have come; it outlasts a pause
}

func (c *clock) tick(now time.Time) {
	if n := len(c.heard); n > 0 && now.Sub(c.heard[n-1]) > clockPause {
		c.heard = c.heard[:0]
	}
	c.heard = append(c.heard, now)
	if len(c.heard) > clocksPerQuarter+1 {
		c.heard = c.heard[1:]
	}
	if n := len(c.heard) - 1; n > 0 {
		took := c.heard[n].Sub(c.heard[0])
		c.quarter = preset.Millis(took) / preset.Millis(time.Millisecond) * clocksPerQuarter / preset.Millis(n)
	}
}

// noteValues are those of the clocked times, as shares of a quarter note.
var noteValues = [...]preset.Millis{
	0,
	1, 1.5, 2. / 3,
	1. / 2, 1.5 / 2, 1. / 3,
	1. / 4, 1.5 / 4, 1. / 6,
	1. / 8,
	2,
}
