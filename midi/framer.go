package midi

import (
	"encoding/binary"
	"math/bits"
)

// A Fault is what is wrong with a message that was framed.
type Fault int

// Whole messages are as they should be. A SysEx is CutShort if another status
// than F7 ended it (M1 page 29: it ends the message, but a sender must send F7),
// and TooLong beyond the framer's limit.
const (
	Whole Fault = iota
	CutShort
	TooLong
)

func (f Fault) String() string {
	names := [...]string{Whole: "whole", CutShort: "cut short", TooLong: "too long"}
	if f < 0 || int(f) >= len(names) {
		return "unknown fault"
	}
	return names[f]
}

// A Frame is one message with its status byte, running status expanded. Bytes is
// valid until the function that it was given to returns. A SysEx that is not
// Whole lacks its F7; one that is TooLong has its first bytes only.
type Frame struct {
	Bytes []byte
	Fault Fault
}

// RealTime reports whether the message is a single byte F8 to FF.
func (f Frame) RealTime() bool { return len(f.Bytes) == 1 && f.Bytes[0] >= TimingClock }

// IsSysEx reports whether the message begins with F0.
func (f Frame) IsSysEx() bool { return len(f.Bytes) > 0 && f.Bytes[0] == StartOfSysEx }

// DefaultLimit is the longest SysEx that a Framer takes if not told otherwise,
// with F0 and F7: far more than any dump of the hardware we know of.
const DefaultLimit = 1 << 20

// A Framer turns a stream of bytes, cut into pieces anyhow, into messages. It
// follows the rules of M1 appendix A-2: running status is set by channel
// messages, cleared by system common and exclusive ones, untouched by real-time
// bytes, which are given at once wherever they come. The zero value is ready.
// Once its buffer has grown to the longest SysEx seen it does not allocate.
type Framer struct {
	Limit int // longest SysEx with F0 and F7; 0 is DefaultLimit

	status byte // the status that data bytes belong to, 0 if none
	fresh  bool // no message has come of that status yet
	need   int  // length of its messages
	have   int  // bytes of short filled, the status among them
	short  [3]byte

	exclusive bool
	long      []byte // the SysEx under way, from F0 on
	over      bool   // it had more bytes than the limit allows

	realTime [1]byte
	stray    int64
}

// How long the messages of each status are: channel messages by the high half of
// the status, 8 to E, system common ones by the low half (M1 tables I and V). F0
// has no length, F4 and F5 are undefined, F7 is no message.
const (
	channelLength = "\x03\x03\x03\x03\x02\x02\x03"
	systemLength  = "\x00\x02\x03\x02\x00\x00\x01\x00"
)

// Stray is how many bytes came that were given in no message: data without a
// status, undefined statuses, short messages broken off by the next status, what
// a SysEx had beyond the limit.
func (f *Framer) Stray() int64 { return f.stray }

// InSysEx reports whether a SysEx has begun that has not ended.
func (f *Framer) InSysEx() bool { return f.exclusive }

// UnderWay reports whether a message has begun that has not ended: a SysEx, or a
// short one that lacks data.
func (f *Framer) UnderWay() bool {
	return f.exclusive || f.status != 0 && (f.fresh || f.have > 1)
}

// Feed takes the next bytes and gives each message to emit as it ends.
func (f *Framer) Feed(b []byte, emit func(Frame)) {
	for i := 0; i < len(b); {
		c := b[i]
		switch {
		case c < 0x80 && f.exclusive:
			i += f.exclusiveData(b[i:])
		case c < 0x80:
			f.data(c, emit)
			i++
		case c >= TimingClock:
			f.single(c, emit)
			i++
		default:
			f.begin(c, emit)
			i++
		}
	}
}

// End says that no more bytes will come: a SysEx under way is given as CutShort.
// The framer is then as new, but for what it has counted.
func (f *Framer) End(emit func(Frame)) {
	f.breakOff(emit)
}

// exclusiveData takes the data bytes that b begins with and says how many.
func (f *Framer) exclusiveData(b []byte) int {
	n := dataLength(b)
	room := f.limit() - 1 - len(f.long) // the F7 must fit in
	if n > room {
		f.over = true
		f.stray += int64(n - room)
		f.long = append(f.long, b[:room]...)
		return n
	}
	f.long = append(f.long, b[:n]...)
	return n
}

// dataLength is how many bytes below 80 b begins with. Dumps are long, so eight
// are looked at together where there are eight.
func dataLength(b []byte) int {
	n := 0
	for ; len(b)-n >= 8; n += 8 {
		if tops := binary.LittleEndian.Uint64(b[n:]) & 0x8080808080808080; tops != 0 {
			return n + bits.TrailingZeros64(tops)/8
		}
	}
	for n < len(b) && b[n] < 0x80 {
		n++
	}
	return n
}

func (f *Framer) limit() int {
	if f.Limit == 0 {
		return DefaultLimit
	}
	return max(f.Limit, 3) // F0, a number, F7
}

// data takes a data byte outside SysEx.
func (f *Framer) data(c byte, emit func(Frame)) {
	if f.status == 0 {
		f.stray++
		return
	}
	f.short[f.have] = c
	f.have++
	if f.have < f.need {
		return
	}
	f.have, f.fresh = 1, false
	if f.status > StartOfSysEx { // system common messages leave no running status
		f.status = 0
	}
	emit(Frame{Bytes: f.short[:f.need]})
}

func (f *Framer) single(c byte, emit func(Frame)) {
	if c == 0xF9 || c == 0xFD { // undefined: ignored, running status stays
		f.stray++
		return
	}
	f.realTime[0] = c
	emit(Frame{Bytes: f.realTime[:]})
}

// begin takes a status byte below F8.
func (f *Framer) begin(c byte, emit func(Frame)) {
	if c == EndOfSysEx && f.exclusive {
		f.endSysEx(emit)
		return
	}
	f.breakOff(emit)
	switch {
	case c < StartOfSysEx:
		f.expect(c, int(channelLength[c>>4-8]))
	case c == StartOfSysEx:
		f.exclusive, f.over = true, false
		f.long = append(f.long[:0], c)
	case c == TuneRequest:
		f.short[0] = c
		emit(Frame{Bytes: f.short[:1]})
	case c == EndOfSysEx: // by itself it is no message and no error
	case systemLength[c&7] > 0:
		f.expect(c, int(systemLength[c&7]))
	default:
		f.stray++
	}
}

func (f *Framer) expect(status byte, length int) {
	f.status, f.fresh, f.need, f.have = status, true, length, 1
	f.short[0] = status
}

func (f *Framer) endSysEx(emit func(Frame)) {
	f.exclusive = false
	if f.over {
		emit(Frame{Bytes: f.long, Fault: TooLong})
		return
	}
	f.long = append(f.long, EndOfSysEx)
	emit(Frame{Bytes: f.long})
}

// breakOff ends what is under way, because another status came or the stream ended.
func (f *Framer) breakOff(emit func(Frame)) {
	if f.status != 0 {
		f.stray += int64(f.have - 1)
		if f.fresh {
			f.stray++
		}
	}
	f.status, f.fresh, f.have = 0, false, 0
	if !f.exclusive {
		return
	}
	f.exclusive = false
	fault := CutShort
	if f.over {
		fault = TooLong
	}
	emit(Frame{Bytes: f.long, Fault: fault})
}
