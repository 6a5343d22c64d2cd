package midi

// Which bytes of a message a checksum is made of differs from device to device;
// these take exactly those. All but XOR give 7 bits.

// TwosComplement is the byte that makes the 7-bit sum of b and itself zero:
// (−Σ) mod 128, 00 where the sum is a multiple of 128.
func TwosComplement(b []byte) byte { return -sum(b) & 0x7F }

// OnesComplement is the 7-bit sum with every bit turned over.
func OnesComplement(b []byte) byte { return ^sum(b) & 0x7F }

// PlainSum is the sum's low 7 bits.
func PlainSum(b []byte) byte { return sum(b) & 0x7F }

// XOR is the exclusive or of all bytes, as Sample Dump and File Dump have it (M1
// pages 37 and 43): 7 bits if all of b have no more.
func XOR(b []byte) byte {
	var x byte
	for _, c := range b {
		x ^= c
	}
	return x
}

func sum(b []byte) byte {
	var s byte
	for _, c := range b {
		s += c
	}
	return s
}
