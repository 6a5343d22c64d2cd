package traceport

import (
	"fmt"

	"echowright/midi"
)

// straysInLine is how many bytes that belong to no message a line has at most,
// so that noise has its times too.
const straysInLine = 16

// A cutter finds where the lines of one way end, and what they say.
type cutter struct {
	sent   bool
	decode func(sent bool, message []byte) string
	framer midi.Framer
	parted bool // what is under way began in an earlier line
	within int  // real-time bytes within it
	strays int  // bytes of the line that belong to no message
}

// A cut says whether a line ends before or after a byte, and with what words.
type cut struct {
	endsBefore, endsAfter bool
	before, after         string
}

func (c *cutter) arrow() string {
	if c.sent {
		return toDevice
	}
	return toUs
}

// feed takes the next byte.
func (c *cutter) feed(b byte) cut {
	underWay, inSysEx := c.framer.UnderWay(), c.framer.InSysEx()
	if underWay && b >= midi.TimingClock {
		c.framer.Feed([]byte{b}, func(midi.Frame) {})
		c.within++
		return cut{}
	}
	broken := underWay && b >= 0x80 && !(inSysEx && b == midi.EndOfSysEx)
	var out cut
	if broken {
		out.endsBefore, out.before = true, c.words("half a message")
	}
	c.framer.Feed([]byte{b}, func(f midi.Frame) {
		switch {
		case broken && inSysEx && f.Fault != midi.Whole:
			out.before = c.words(midi.Describe(f.Bytes))
		case f.Fault != midi.Whole:
			out.endsAfter, out.after = true, c.words(fmt.Sprintf("System Exclusive, %v for this program", f.Fault))
		default:
			out.endsAfter, out.after = true, c.words(oneLine(c.decode(c.sent, f.Bytes)))
		}
	})
	if broken || out.endsAfter {
		c.parted, c.within = false, 0
	}
	c.stray(&out)
	return out
}

// stray looks whether the byte belongs to no message, and ends a line of such
// bytes before another one, or when it is long enough.
func (c *cutter) stray(out *cut) {
	if out.endsAfter || c.framer.UnderWay() {
		if c.strays > 0 {
			out.endsBefore, out.before = true, c.straysEnd()
		}
		return
	}
	if c.strays++; c.strays == straysInLine {
		out.endsAfter, out.after = true, c.straysEnd()
	}
}

func (c *cutter) straysEnd() string {
	n := c.strays
	c.strays = 0
	return counted(n, "byte") + " outside any message"
}

// words says what stands before and behind what a message is.
func (c *cutter) words(message string) string {
	if c.parted {
		message = "the rest of: " + message
	}
	if c.within > 0 {
		message += "; " + counted(c.within, "real-time byte") + " within"
	}
	return message
}

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
