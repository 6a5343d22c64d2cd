package emulator

// Kinds of channel message that a delay unit obeys.
const (
	controlChange = 0xB0
	programChange = 0xC0
)

// channelMessage is one on the unit's channel; second is 0 where its kind has
// one data byte.
type channelMessage struct{ kind, first, second byte }

// channelEar picks the messages of one channel out of the bytes that come in;
// it understands running status.
type channelEar struct {
	channel byte // 0 is channel 1

	status byte // that data bytes are for: the running status, 0 without one
	begun  bool // the status byte has come, or a data byte without one
	late   bool // the message under way is obeyed: it did not begin too early
	first  byte
	half   bool // its first data byte of two has come
}

func newChannelEar(o Options) channelEar { return channelEar{channel: byte(o.Channel - 1)} }

// next takes one byte; deaf says that a message which begins with it is lost.
// With the last byte of a message for the unit it gives that message. Real-time
// bytes are passed over; any other system message ends the running status.
func (e *channelEar) next(b byte, deaf bool) (m channelMessage, whole bool) {
	switch {
	case b >= 0xF8:
		return m, false
	case b >= 0xF0:
		e.forget()
		return m, false
	case b >= 0x80:
		e.status, e.begun, e.late, e.half = b, true, !deaf, false
		return m, false
	case e.status == 0:
		return m, false
	}
	if !e.begun {
		e.begun, e.late = true, !deaf
	}
	kind := e.status & 0xF0
	if oneByte := kind == programChange || kind == 0xD0; !oneByte && !e.half {
		e.first, e.half = b, true
		return m, false
	} else if oneByte {
		m = channelMessage{kind, b, 0}
	} else {
		m = channelMessage{kind, e.first, b}
	}
	e.begun, e.half = false, false
	return m, e.late && e.status&0x0F == e.channel
}

// forget drops the message under way and the running status.
func (e *channelEar) forget() { *e = channelEar{channel: e.channel} }
