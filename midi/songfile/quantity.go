package songfile

// maxQuantity is the largest number that a variable-length quantity may hold:
// four bytes of 7 bits.
const maxQuantity = 1<<28 - 1

// appendQuantity writes n, 0 to maxQuantity, 7 bits a byte, high ones first; all
// bytes but the last have their top bit set.
func appendQuantity(dst []byte, n int) []byte {
	for shift := 21; shift > 0; shift -= 7 {
		if n>>shift > 0 {
			dst = append(dst, byte(n>>shift)|0x80)
		}
	}
	return append(dst, byte(n)&0x7F)
}

// quantity reads what appendQuantity writes and gives the bytes it took: 0 where
// b ends first, −1 where more than four would be needed.
func quantity(b []byte) (n, took int) {
	for i, c := range b {
		if i == 4 {
			return 0, -1
		}
		n = n<<7 | int(c&0x7F)
		if c < 0x80 {
			return n, i + 1
		}
	}
	if len(b) >= 4 {
		return 0, -1
	}
	return 0, 0
}
