package emulator

// MIDI File Dump (MIDI 1.0 Detailed Specification 4.2.1), as a firmware of its
// own makes and takes it. A message goes to the device whose number stands
// after 7E: an answer, too, carries the number of the one that gets it.
const (
	fileDump    = 0x07
	dumpHeader  = 0x01
	dumpPacket  = 0x02
	dumpRequest = 0x03

	dumpEOF    = 0x7B
	dumpWAIT   = 0x7C
	dumpCANCEL = 0x7D
	dumpNAK    = 0x7E
	dumpACK    = 0x7F
)

const (
	packetBytes = 112 // of a file, in one packet
	dumpErrors  = 3   // in a row on one packet end a dump
)

// handshake answers the packet of that number.
func handshake(to, kind byte, packet int) []byte {
	return []byte{0xF0, universal, to, kind, byte(packet & 0x7F), 0xF7}
}

// headerOf announces a file: its length goes low 7 bits first.
func headerOf(to, from byte, file string, length int) []byte {
	m := []byte{0xF0, universal, to, fileDump, dumpHeader, from}
	m = append(m, memoryType...)
	for range 4 {
		m = append(m, byte(length&0x7F))
		length >>= 7
	}
	return append(append(m, file...), 0xF7)
}

// packetOf carries a piece of a file: its number, how many packed bytes less
// one, those, and a checksum.
func packetOf(to byte, number int, piece []byte) []byte {
	packed := pack(piece)
	m := append([]byte{0xF0, universal, to, fileDump, dumpPacket, byte(number & 0x7F), byte(len(packed) - 1)}, packed...)
	return append(m, exclusiveOr(m[1:]), 0xF7)
}

// pieceOf is the way back, of a packet without its ends: false where its length
// or its checksum is wrong.
func pieceOf(body []byte) (number int, piece []byte, ok bool) {
	const before = 6
	if len(body) < before+2 || len(body) != before+int(body[5])+1+1 || exclusiveOr(body) != 0 {
		return 0, nil, false
	}
	packed := body[before : len(body)-1]
	if len(packed)%8 == 1 { // the top bits of no byte
		return 0, nil, false
	}
	return int(body[4]), unpack(packed), true
}

// exclusiveOr is 0 over a packet with its checksum.
func exclusiveOr(bytes []byte) byte {
	x := byte(0)
	for _, b := range bytes {
		x ^= b
	}
	return x
}

// What the memories are called as files.
const (
	memoryType = "BIN "
	memoryName = "MEM"
)

// memoryNamed is the number of a memory by its type and name, MEM00 to MEM15.
func memoryNamed(file string) (slot int, ok bool) {
	const digits = len(memoryType + memoryName)
	if len(file) != digits+2 || file[:digits] != memoryType+memoryName {
		return 0, false
	}
	tens, ones := int(file[digits])-'0', int(file[digits+1])-'0'
	slot = 10*tens + ones
	return slot, tens >= 0 && ones >= 0 && ones <= 9 && slot < openSlots
}
