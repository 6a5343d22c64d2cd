package midi

import "math/bits"

// A CRC16 is a cyclic redundancy check of 16 bits with the parameters by which
// catalogues list them.
type CRC16 struct {
	Poly       uint16 // the polynomial without its x^16, highest power first
	Init       uint16 // what the register starts with
	ReflectIn  bool   // each byte's lowest bit goes first
	ReflectOut bool   // the register is mirrored before XorOut
	XorOut     uint16 // exclusive-ored to the result
}

// CCITTFalse is CRC-16/CCITT-FALSE, which catalogues also call CRC-16/IBM-3740:
// polynomial 1021h, start FFFFh, not reflected.
func CCITTFalse() CRC16 { return CRC16{Poly: 0x1021, Init: 0xFFFF} }

// Sum is the check of b.
func (c CRC16) Sum(b []byte) uint16 {
	register := c.Init
	for _, in := range b {
		if c.ReflectIn {
			in = bits.Reverse8(in)
		}
		register ^= uint16(in) << 8
		for range 8 {
			carry := register >> 15
			register = register<<1 ^ -carry&c.Poly
		}
	}
	if c.ReflectOut {
		register = bits.Reverse16(register)
	}
	return register ^ c.XorOut
}
