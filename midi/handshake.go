package midi

import "fmt"

// A Handshake is what the receiver of a dump says of a packet, or the sender at
// its end (M1 pages 36 and 44).
type Handshake byte

// The handshakes.
const (
	EOF    Handshake = 0x7B // the dump is over
	WAIT   Handshake = 0x7C // nothing more until ACK, NAK or CANCEL follows
	CANCEL Handshake = 0x7D
	NAK    Handshake = 0x7E // the packet did not arrive whole: again
	ACK    Handshake = 0x7F // the next one, please
)

func (h Handshake) String() string {
	names := [...]string{"EOF", "WAIT", "CANCEL", "NAK", "ACK"}
	if h < EOF || h > ACK {
		return fmt.Sprintf("Handshake(%02X)", byte(h))
	}
	return names[h-EOF]
}

// Message is the handshake to a device about a packet; the packet's number runs
// on after 127 with 0.
func (h Handshake) Message(device, packet int) ([]byte, error) {
	if h < EOF || h > ACK {
		return nil, fmt.Errorf("handshake: %v is none", h)
	}
	for _, f := range []field{{"device", device, MaxValue7}, {"packet", packet, MaxValue7}} {
		if err := f.check("handshake"); err != nil {
			return nil, err
		}
	}
	return []byte{StartOfSysEx, universal, byte(device), byte(h), byte(packet), EndOfSysEx}, nil
}

// Answer matches the handshake about a packet (any packet below 0) from whatever
// device: by the standard the number is the receiver's, but there are devices
// that give their own.
func (h Handshake) Answer(packet int) Match {
	m := Match{Value: []byte{StartOfSysEx, universal, 0, byte(h), byte(packet & 0x7F), EndOfSysEx}, Mask: []byte{0xFF, 0xFF, 0, 0xFF, 0xFF, 0xFF}}
	if packet < 0 {
		m.Value[4], m.Mask[4] = 0, 0
	}
	return m
}

// ParseHandshake reads a handshake; false if the message is none.
func ParseHandshake(message []byte) (h Handshake, packet int, ok bool) {
	if len(message) != 6 || message[0] != StartOfSysEx || message[1] != universal || message[5] != EndOfSysEx ||
		Handshake(message[3]) < EOF || message[3] > MaxValue7 {
		return 0, 0, false
	}
	return Handshake(message[3]), int(message[4]), true
}
