package midi

import "fmt"

// Describe says in words what a whole message is, for somebody who looks at what
// passes on a wire: "control change 16 = 64, channel 1". What it does not know it
// calls by its bytes.
func Describe(message []byte) string {
	switch {
	case len(message) == 0:
		return "nothing"
	case message[0] < 0x80:
		return "data without a status: " + Hex(message)
	case message[0] == StartOfSysEx:
		return describeSysEx(message)
	case message[0] > StartOfSysEx:
		return describeSystem(message)
	}
	want := 3
	if kind := message[0] & 0xF0; kind == 0xC0 || kind == 0xD0 {
		want = 2
	}
	if len(message) != want {
		return "half a message: " + Hex(message)
	}
	return describeChannel(message)
}

func describeChannel(m []byte) string {
	channel := m[0]&0x0F + 1
	switch m[0] >> 4 {
	case 0x8:
		return fmt.Sprintf("note off, key %d, channel %d", m[1], channel)
	case 0x9:
		return fmt.Sprintf("note on, key %d, velocity %d, channel %d", m[1], m[2], channel)
	case 0xA:
		return fmt.Sprintf("pressure on key %d = %d, channel %d", m[1], m[2], channel)
	case 0xB:
		return fmt.Sprintf("control change %d%s = %d, channel %d", m[1], controllerWords(m[1]), m[2], channel)
	case 0xC:
		return fmt.Sprintf("program change %d, channel %d", m[1], channel)
	case 0xD:
		return fmt.Sprintf("channel pressure %d, channel %d", m[1], channel)
	}
	return fmt.Sprintf("pitch bend %d, channel %d", int(m[2])<<7|int(m[1]), channel)
}

// controllerWords says what a controller is for where that explains what comes
// next (M1 table III).
func controllerWords(number byte) string {
	words, ok := map[byte]string{
		0: "bank, high half", 32: "bank, low half", 6: "data, high half", 38: "data, low half", 96: "data increment", 97: "data decrement",
		98: "NRPN, low half", 99: "NRPN, high half", 100: "RPN, low half", 101: "RPN, high half",
		120: "all sound off", 121: "reset all controllers", 123: "all notes off",
	}[number]
	if !ok {
		return ""
	}
	return " (" + words + ")"
}

func describeSystem(m []byte) string {
	if m[0] == SongPointer && len(m) == 3 {
		return fmt.Sprintf("song position %d", int(m[2])<<7|int(m[1]))
	}
	words, ok := map[byte]string{
		QuarterFrames: "time code quarter frame", SongSelector: "song select", TuneRequest: "tune request", EndOfSysEx: "an end of System Exclusive without a beginning",
		TimingClock: "clock", Start: "start", Continue: "continue", Stop: "stop", ActiveSensing: "active sensing", SystemReset: "reset",
	}[m[0]]
	if !ok {
		return "undefined: " + Hex(m)
	}
	return words
}

// universalWords are the System Exclusive messages that every maker shares, by their
// sub-numbers (M1 tables VII a and VII b; CA-024 for the last).
var universalWords = []struct {
	realTime   byte
	sub1, sub2 int // sub2 −1: any
	words      string
}{
	{0x7E, 0x06, 0x01, "identity request"},
	{0x7E, 0x06, 0x02, "identity reply"},
	{0x7E, 0x07, 0x01, "file dump header"},
	{0x7E, 0x07, 0x02, "file dump packet"},
	{0x7E, 0x07, 0x03, "file dump request"},
	{0x7E, 0x7B, -1, "end of file"},
	{0x7E, 0x7C, -1, "wait"},
	{0x7E, 0x7D, -1, "cancel"},
	{0x7E, 0x7E, -1, "not acknowledged"},
	{0x7E, 0x7F, -1, "acknowledged"},
	{0x7F, 0x04, 0x01, "master volume"},
	{0x7F, 0x04, 0x02, "master balance"},
	{0x7F, 0x04, 0x05, "global parameter control"},
}

func describeSysEx(m []byte) string {
	if m[len(m)-1] != EndOfSysEx || len(m) < 3 {
		return fmt.Sprintf("System Exclusive that was broken off after %d bytes", len(m))
	}
	if id, err := ParseIdentity(m); err == nil {
		return fmt.Sprintf("identity reply: %v", id)
	}
	if (m[1] == 0x7E || m[1] == 0x7F) && len(m) >= 6 {
		for _, u := range universalWords {
			if m[1] == u.realTime && int(m[3]) == u.sub1 && (u.sub2 < 0 || int(m[4]) == u.sub2) {
				return fmt.Sprintf("%s, unit %d, %d bytes", u.words, m[2], len(m))
			}
		}
	}
	maker := Manufacturer{m[1]}
	if m[1] == 0 && len(m) > 4 {
		maker = Manufacturer{m[1], m[2], m[3]}
	}
	return fmt.Sprintf("System Exclusive of manufacturer %v, %d bytes", maker, len(m))
}
