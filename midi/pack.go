package midi

import "fmt"

// A BitOrder says where in the head byte of a group the top bits of its bytes
// stand.
type BitOrder int

const (
	// FirstHigh has the first byte's top bit in bit 6 of the head byte, the
	// second's in bit 5 and so on: the MIDI File Dump (M1 page 43), which is
	// also the Mcoded7 of MIDI-CI.
	FirstHigh BitOrder = iota
	// FirstLow is the mirror image: the first byte's top bit in bit 0.
	FirstLow
)

func (o BitOrder) String() string {
	if o == FirstLow {
		return "first low"
	}
	return "first high"
}

// bit is the place in the head byte of the top bit of byte i of a group.
func (o BitOrder) bit(i int) int {
	if o == FirstLow {
		return i
	}
	return 6 - i
}

// PackedLength is how many 7-bit bytes n bytes become: a head byte more for each
// group of seven, also for the last, short one.
func PackedLength(n int) int { return n + (n+6)/7 }

// UnpackedLength is how many bytes n packed ones hold. No length of packed bytes
// leaves 1 when divided by 8: that would be a head byte alone.
func UnpackedLength(n int) (int, error) {
	if n < 0 || n%8 == 1 {
		return 0, fmt.Errorf("packed data of %d bytes: a group is a head byte and 1 to 7 more, so that length cannot be; is the end missing?", n)
	}
	return n - (n+7)/8, nil
}

// AppendPacked appends to dst what src becomes when groups of up to seven bytes
// are sent as eight of 7 bits: a head byte with their top bits, then the rest of
// each.
func AppendPacked(dst, src []byte, order BitOrder) []byte {
	for len(src) > 0 {
		group := src[:min(7, len(src))]
		src = src[len(group):]
		head := len(dst)
		dst = append(dst, 0)
		for i, b := range group {
			dst[head] |= b >> 7 << order.bit(i)
			dst = append(dst, b&0x7F)
		}
	}
	return dst
}

// AppendUnpacked appends to dst what src held before it was packed. It is an
// error, and dst is given back as it was, if the length cannot be, if a byte has
// its top bit set, or if the last head byte has a bit for a byte that is not
// there, which is what the wrong bit order looks like.
func AppendUnpacked(dst, src []byte, order BitOrder) ([]byte, error) {
	if _, err := UnpackedLength(len(src)); err != nil {
		return dst, err
	}
	out := dst
	for at := 0; at < len(src); at += 8 {
		group := src[at:min(at+8, len(src))]
		head := group[0]
		for i, b := range group[1:] {
			top := head >> order.bit(i) & 1
			head &^= 1 << order.bit(i)
			if b > MaxValue7 {
				return dst, fmt.Errorf("packed data: byte %d is %02X: wanted 00 to 7F", at+1+i, b)
			}
			out = append(out, b|top<<7)
		}
		if head != 0 {
			return dst, fmt.Errorf("packed data: byte %d, the head of a group of %d, is %02X: it has bits for bytes that are not there; is the order of bits other than %q?",
				at, len(group)-1, group[0], order)
		}
	}
	return out, nil
}
