package emulator

// sum7 is the 7-bit sum: 0 over a message from its command to its checksum.
func sum7(bytes []byte) byte {
	sum := byte(0)
	for _, b := range bytes {
		sum += b
	}
	return sum & 0x7F
}

// crc16 is CRC-16/CCITT-FALSE: polynomial 1021h, start FFFFh, not reflected.
func crc16(bytes []byte) uint16 {
	crc := uint16(0xFFFF)
	for _, b := range bytes {
		crc ^= uint16(b) << 8
		for range 8 {
			top := crc & 0x8000
			crc <<= 1
			if top != 0 {
				crc ^= 0x1021
			}
		}
	}
	return crc
}

// pack makes eight bytes of 7 bits of seven bytes of 8: first their top bits,
// the first byte's in bit 6, then the bytes without them. The last group is
// shorter where the bytes don't come out even.
func pack(bytes []byte) []byte {
	var packed []byte
	for len(bytes) > 0 {
		group := bytes[:min(7, len(bytes))]
		bytes = bytes[len(group):]
		tops := byte(0)
		for i, b := range group {
			tops |= b >> 7 << (6 - i)
		}
		packed = append(packed, tops)
		for _, b := range group {
			packed = append(packed, b&0x7F)
		}
	}
	return packed
}

// unpack is the way back.
func unpack(packed []byte) []byte {
	var bytes []byte
	for len(packed) > 0 {
		group := packed[:min(8, len(packed))]
		packed = packed[len(group):]
		for i, b := range group[1:] {
			bytes = append(bytes, b|group[0]<<(i+1)&0x80)
		}
	}
	return bytes
}
