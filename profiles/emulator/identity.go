package emulator

// universal is what stands in the place of a maker in messages that are common
// to all: not in real time, and in real time.
const (
	universal         = 0x7E
	universalRealTime = 0x7F
)

// asksIdentity: F0 7E <dev> 06 01 F7 (MIDI 1.0, Device Inquiry), here without
// its ends.
func asksIdentity(body []byte) bool {
	return len(body) == 4 && body[0] == universal && body[2] == 0x06 && body[3] == 0x01
}

// identity answers that with maker, family and member (low 7 bits first), version 1.0.
func (a *attention) identity(unit, family byte) []byte {
	if a.faults.WrongIdentity {
		family += 2
	}
	return []byte{0xF0, universal, unit, 0x06, 0x02, maker, family, 0x00, 0x01, 0x00, 0x01, 0x00, 0x00, 0x00, 0xF7}
}
