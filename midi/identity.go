package midi

import (
	"errors"
	"fmt"
)

// A Manufacturer is a manufacturer's number: one byte with two zeros behind it,
// or three of which the first is 0 (M1 page 34).
type Manufacturer [3]byte

// Bytes is the number as it stands on the wire: one byte or three.
func (m Manufacturer) Bytes() []byte {
	if m[0] != 0 {
		return []byte{m[0]}
	}
	return []byte{m[0], m[1], m[2]}
}

func (m Manufacturer) String() string { return Hex(m.Bytes()) }

func (m Manufacturer) check() error {
	switch {
	case m[0] > MaxValue7 || m[1] > MaxValue7 || m[2] > MaxValue7:
		return fmt.Errorf("manufacturer %s: each byte runs from 00 to 7F", Hex(m[:]))
	case m == Manufacturer{}:
		return errors.New("manufacturer 00 00 00: that number is not given to anybody")
	case m[0] != 0 && (m[1] != 0 || m[2] != 0):
		return fmt.Errorf("manufacturer %s: a number of three bytes begins with 00", Hex(m[:]))
	}
	return nil
}

// An Identity is what a unit says of itself when asked with [IdentityRequest].
type Identity struct {
	Unit         int // the device number it answers to, 0 to 127
	Manufacturer Manufacturer
	Family       int     // 14 bits
	Member       int     // 14 bits
	Revision     [4]byte // of its software, in a form of its maker
}

func (id Identity) String() string {
	return fmt.Sprintf("manufacturer %s, family %04Xh, member %04Xh, revision %s", id.Manufacturer, id.Family, id.Member, Hex(id.Revision[:]))
}

// ErrNoIdentity is wrapped where a message is no Identity Reply at all, rather
// than a broken one.
var ErrNoIdentity = errors.New("no identity reply (F0 7E .. 06 02 …)")

// ParseIdentity reads an Identity Reply: 15 bytes, or 17 with a manufacturer's
// number of three (M1 page 40; counted from its fields).
func ParseIdentity(message []byte) (Identity, error) {
	n := len(message)
	if n < 6 || message[0] != StartOfSysEx || message[1] != 0x7E || message[3] != 6 || message[4] != 2 {
		return Identity{}, fmt.Errorf("message %s: %w", Hex(message[:min(n, 8)]), ErrNoIdentity)
	}
	id := Identity{Unit: int(message[2]), Manufacturer: Manufacturer{message[5]}}
	want, rest := 15, message[6:]
	if message[5] == 0 {
		want = 17
	}
	if n != want || message[n-1] != EndOfSysEx {
		return Identity{}, fmt.Errorf("identity reply of %d bytes, %s: wanted %d bytes that end with F7", n, Hex(message[:min(n, 20)]), want)
	}
	for i, b := range message[1 : n-1] {
		if b > MaxValue7 {
			return Identity{}, fmt.Errorf("identity reply: byte %d is %02X: wanted 00 to 7F", i+1, b)
		}
	}
	if message[5] == 0 {
		id.Manufacturer = Manufacturer(message[5:8])
		rest = message[8:]
	}
	if err := id.Manufacturer.check(); err != nil {
		return Identity{}, fmt.Errorf("identity reply: %w", err)
	}
	id.Family, id.Member = int(rest[0])|int(rest[1])<<7, int(rest[2])|int(rest[3])<<7
	copy(id.Revision[:], rest[4:8])
	return id, nil
}

// Reply is the Identity Reply that says so: what ParseIdentity reads.
func (id Identity) Reply() ([]byte, error) {
	for _, f := range []field{{"unit", id.Unit, MaxValue7}, {"family", id.Family, MaxValue14}, {"member", id.Member, MaxValue14}} {
		if err := f.check("identity reply"); err != nil {
			return nil, err
		}
	}
	if err := id.Manufacturer.check(); err != nil {
		return nil, fmt.Errorf("identity reply: %w", err)
	}
	body := []byte{0x7E, byte(id.Unit), 0x06, 0x02}
	body = append(body, id.Manufacturer.Bytes()...)
	body = append(body, byte(id.Family&0x7F), byte(id.Family>>7), byte(id.Member&0x7F), byte(id.Member>>7))
	return SysEx(append(body, id.Revision[:]...))
}
