package midi

import "fmt"

// A Channel is a MIDI channel as people count them, 1 to 16.
type Channel int

// The status bytes of the system messages (M1 tables V, VI, VII). F4, F5, F9 and
// FD are undefined.
const (
	StartOfSysEx  = 0xF0
	QuarterFrames = 0xF1
	SongPointer   = 0xF2
	SongSelector  = 0xF3
	TuneRequest   = 0xF6
	EndOfSysEx    = 0xF7
	TimingClock   = 0xF8
	Start         = 0xFA
	Continue      = 0xFB
	Stop          = 0xFC
	ActiveSensing = 0xFE
	SystemReset   = 0xFF
)

// MaxValue7 and MaxValue14 are the largest values of one and of two data bytes.
const (
	MaxValue7  = 1<<7 - 1
	MaxValue14 = 1<<14 - 1
)

// A RangeError is a value that does not fit its place in a message. Values are
// never brought into range silently.
type RangeError struct {
	What     string // "control change: value"
	Got      int
	Min, Max int
}

func (e *RangeError) Error() string {
	return fmt.Sprintf("%s %d: it runs from %d to %d", e.What, e.Got, e.Min, e.Max)
}

// field is a value with its name and its largest value; the least is 0.
type field struct {
	name string
	got  int
	max  int
}

func (f field) check(message string) error {
	if f.got < 0 || f.got > f.max {
		return &RangeError{What: message + ": " + f.name, Got: f.got, Min: 0, Max: f.max}
	}
	return nil
}

// channelMessage puts status and channel into the first byte and each field into
// one data byte or, if its largest value asks for it, two: low 7 bits first.
func channelMessage(name string, status byte, ch Channel, fields ...field) ([]byte, error) {
	if ch < 1 || ch > 16 {
		return nil, &RangeError{What: name + ": channel", Got: int(ch), Min: 1, Max: 16}
	}
	return message(name, status|byte(ch-1), fields...)
}

func message(name string, status byte, fields ...field) ([]byte, error) {
	out := append(make([]byte, 0, 3), status)
	for _, f := range fields {
		if err := f.check(name); err != nil {
			return nil, err
		}
		out = append(out, byte(f.got&0x7F))
		if f.max > MaxValue7 {
			out = append(out, byte(f.got>>7))
		}
	}
	return out, nil
}

// NoteOff ends a note; key and velocity run from 0 to 127.
func NoteOff(ch Channel, key, velocity int) ([]byte, error) {
	return channelMessage("note off", 0x80, ch, field{"key", key, MaxValue7}, field{"velocity", velocity, MaxValue7})
}

// NoteOn begins a note; a velocity of 0 ends it.
func NoteOn(ch Channel, key, velocity int) ([]byte, error) {
	return channelMessage("note on", 0x90, ch, field{"key", key, MaxValue7}, field{"velocity", velocity, MaxValue7})
}

// KeyPressure is the pressure on one key.
func KeyPressure(ch Channel, key, pressure int) ([]byte, error) {
	return channelMessage("key pressure", 0xA0, ch, field{"key", key, MaxValue7}, field{"pressure", pressure, MaxValue7})
}

// ControlChange sets a controller, 0 to 127; 120 and above are the channel mode messages.
func ControlChange(ch Channel, controller, value int) ([]byte, error) {
	return channelMessage("control change", 0xB0, ch, field{"controller", controller, MaxValue7}, field{"value", value, MaxValue7})
}

// ProgramChange chooses a program, 0 to 127 as on the wire.
func ProgramChange(ch Channel, program int) ([]byte, error) {
	return channelMessage("program change", 0xC0, ch, field{"program", program, MaxValue7})
}

// ChannelPressure is the pressure on all keys.
func ChannelPressure(ch Channel, pressure int) ([]byte, error) {
	return channelMessage("channel pressure", 0xD0, ch, field{"pressure", pressure, MaxValue7})
}

// PitchBend is the position of the bender, 0 to 16383 with 8192 in the middle.
func PitchBend(ch Channel, position int) ([]byte, error) {
	return channelMessage("pitch bend", 0xE0, ch, field{"position", position, MaxValue14})
}

// QuarterFrame is one eighth of a time code: type 0 to 7, value 0 to 15.
func QuarterFrame(kind, value int) ([]byte, error) {
	for _, f := range []field{{"type", kind, 7}, {"value", value, 15}} {
		if err := f.check("quarter frame"); err != nil {
			return nil, err
		}
	}
	return []byte{QuarterFrames, byte(kind<<4 | value)}, nil
}

// SongPosition is the place in a song in MIDI beats: six clocks, a sixteenth note, each.
func SongPosition(beats int) ([]byte, error) {
	return message("song position", SongPointer, field{"beats", beats, MaxValue14})
}

// SongSelect chooses a song, 0 to 127.
func SongSelect(song int) ([]byte, error) {
	return message("song select", SongSelector, field{"song", song, MaxValue7})
}
