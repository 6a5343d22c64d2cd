package osport

import (
	"errors"

	"echowright/midi"
)

// A cutter turns a stream of bytes into what the system takes at once: short
// messages, each with its status, and SysEx, whole or in pieces.
type cutter struct {
	piece  int // bytes of a piece of SysEx, the last may have less; 0 for whole messages
	framer midi.Framer
	held   []byte // of a SysEx under way
	inside bool   // a SysEx has begun
}

var errCutShort = errors.New("a SysEx without its end (F7): the system takes none")

// feed gives what the bytes complete, and says how many of b went with it.
func (c *cutter) feed(b []byte, give func([]byte) error) (went int, err error) {
	for i, value := range b {
		given, err := c.one(value, give)
		if err != nil {
			return went, err
		}
		if given {
			went = i + 1
		}
	}
	return went, nil
}

func (c *cutter) one(value byte, give func([]byte) error) (given bool, err error) {
	switch {
	case value >= midi.TimingClock: // may stand anywhere, also inside a SysEx
		return true, give([]byte{value})
	case value == midi.StartOfSysEx && !c.inside:
		c.inside, c.held = true, append(c.held[:0], value)
		c.framer = midi.Framer{} // SysEx ends running status
		return false, nil
	case c.inside:
		return c.sysEx(value, give)
	}
	c.framer.Feed([]byte{value}, func(m midi.Frame) {
		given, err = true, give(m.Bytes)
	})
	return given, err
}

func (c *cutter) sysEx(value byte, give func([]byte) error) (given bool, err error) {
	if value >= 0x80 && value != midi.EndOfSysEx {
		c.inside = false
		return false, errCutShort
	}
	c.held = append(c.held, value)
	c.inside = value != midi.EndOfSysEx
	if c.inside && len(c.held) != c.piece {
		return false, nil
	}
	err = give(c.held)
	c.held = c.held[:0]
	return true, err
}
