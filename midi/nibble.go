package midi

import "fmt"

// A NibbleOrder says which half of a byte is sent first where each travels in a
// byte of its own.
type NibbleOrder int

// The two orders.
const (
	HighNibbleFirst NibbleOrder = iota
	LowNibbleFirst
)

// AppendNibbles appends to dst each byte of src as two of four bits.
func AppendNibbles(dst, src []byte, order NibbleOrder) []byte {
	for _, b := range src {
		first, second := b>>4, b&0x0F
		if order == LowNibbleFirst {
			first, second = second, first
		}
		dst = append(dst, first, second)
	}
	return dst
}

// AppendFromNibbles appends to dst what src held before it was cut into halves.
// It is an error, and dst is given back as it was, if a half is missing or has
// more than four bits.
func AppendFromNibbles(dst, src []byte, order NibbleOrder) ([]byte, error) {
	if len(src)%2 != 0 {
		return dst, fmt.Errorf("nibbles: %d of them: wanted two for each byte; is the end missing?", len(src))
	}
	for i, b := range src {
		if b > 0x0F {
			return dst, fmt.Errorf("nibbles: byte %d is %02X: wanted 00 to 0F", i, b)
		}
	}
	for i := 0; i < len(src); i += 2 {
		high, low := src[i], src[i+1]
		if order == LowNibbleFirst {
			high, low = low, high
		}
		dst = append(dst, high<<4|low)
	}
	return dst, nil
}
