package midi

import (
	"errors"
	"fmt"
)

// The numbers of the File Dump (M1 pages 41 to 43).
const (
	universal   = 0x7E
	fileDump    = 0x07
	dumpHeader  = 0x01
	dumpPacket  = 0x02
	dumpRequest = 0x03
)

// MostInPacket is how many bytes of a file one packet of a File Dump holds at
// most: packed they are 128.
const MostInPacket = 112

// A FileDump is the header of a File Dump, or a request for one.
type FileDump struct {
	Device int    // the one that the message goes to, 0 to 127
	Source int    // the one that it comes from
	Type   string // four characters: "MIDI", "BIN ", "TEXT" …
	Name   string // printable ASCII, may be empty
	Length int    // bytes of the file, not packed; 0: not known. A request has none
}

// Request asks for the file.
func (f FileDump) Request() ([]byte, error) {
	return f.message(dumpRequest, nil)
}

// Header announces the file: its length goes low 7 bits first.
func (f FileDump) Header() ([]byte, error) {
	if f.Length < 0 || f.Length >= 1<<28 {
		return nil, &RangeError{What: "file dump: length", Got: f.Length, Min: 0, Max: 1<<28 - 1}
	}
	return f.message(dumpHeader, []byte{byte(f.Length & 0x7F), byte(f.Length >> 7 & 0x7F), byte(f.Length >> 14 & 0x7F), byte(f.Length >> 21)})
}

func (f FileDump) message(kind byte, length []byte) ([]byte, error) {
	for _, v := range []field{{"device", f.Device, MaxValue7}, {"source", f.Source, MaxValue7}} {
		if err := v.check("file dump"); err != nil {
			return nil, err
		}
	}
	if len(f.Type) != 4 {
		return nil, fmt.Errorf("file dump: type %q: wanted four characters, such as %q", f.Type, "BIN ")
	}
	body := []byte{universal, byte(f.Device), fileDump, kind, byte(f.Source)}
	body = append(append(body, f.Type...), length...)
	for _, c := range []byte(f.Type + f.Name) {
		if c < 0x20 || c > 0x7E {
			return nil, fmt.Errorf("file dump: %q %q: only printable ASCII characters go there", f.Type, f.Name)
		}
	}
	return SysEx(append(body, f.Name...))
}

// ErrNoFileDump is wrapped where a message is none of a File Dump's, rather than
// a broken one.
var ErrNoFileDump = errors.New("no such message of a file dump")

// ErrChecksum is wrapped where a checksum does not hold.
var ErrChecksum = errors.New("checksum does not hold")

// ParseFileDumpHeader reads what Header makes.
func ParseFileDumpHeader(message []byte) (FileDump, error) {
	const typeAt, lengthAt, nameAt = 6, 10, 14
	n := len(message)
	if !isFileDump(message, dumpHeader) || n < nameAt+1 {
		return FileDump{}, fmt.Errorf("%s: %w: wanted a header", Hex(message[:min(n, 8)]), ErrNoFileDump)
	}
	f := FileDump{Device: int(message[2]), Source: int(message[5]), Type: string(message[typeAt:lengthAt]), Name: string(message[nameAt : n-1])}
	for i, b := range message[lengthAt:nameAt] {
		f.Length |= int(b&0x7F) << (7 * i)
	}
	return f, nil
}

func isFileDump(message []byte, kind byte) bool {
	n := len(message)
	return n >= 7 && message[0] == StartOfSysEx && message[n-1] == EndOfSysEx && message[1] == universal && message[3] == fileDump && message[4] == kind
}

// AppendFilePacket appends the packet of that number (which runs on after 127
// with 0) with at most [MostInPacket] bytes of the file: number, packed bytes
// less one, those, and the XOR of all before it behind F0.
func AppendFilePacket(dst []byte, device, number int, data []byte) ([]byte, error) {
	if device < 0 || device > MaxValue7 {
		return dst, &RangeError{What: "file dump: device", Got: device, Min: 0, Max: MaxValue7}
	}
	if len(data) < 1 || len(data) > MostInPacket {
		return dst, &RangeError{What: "file dump: bytes in a packet", Got: len(data), Min: 1, Max: MostInPacket}
	}
	start := len(dst)
	dst = append(dst, StartOfSysEx, universal, byte(device), fileDump, dumpPacket, byte(number&0x7F), byte(PackedLength(len(data))-1))
	dst = AppendPacked(dst, data, FirstHigh)
	return append(dst, XOR(dst[start+1:]), EndOfSysEx), nil
}

// ParseFilePacket reads a packet. The error wraps [ErrNoFileDump] if the message
// is no packet, [ErrChecksum] if it did not arrive whole.
func ParseFilePacket(message []byte) (number int, data []byte, err error) {
	const countAt, dataAt = 6, 7
	n := len(message)
	if !isFileDump(message, dumpPacket) || n < dataAt+2 {
		return 0, nil, fmt.Errorf("%s: %w: wanted a packet", Hex(message[:min(n, 8)]), ErrNoFileDump)
	}
	number = int(message[5])
	if want := dataAt + int(message[countAt]) + 1 + 2; n != want {
		return number, nil, fmt.Errorf("packet %d of %d bytes, its count says %d: %w", number, n, want, ErrChecksum)
	}
	if got, want := message[n-2], XOR(message[1:n-2]); got != want {
		return number, nil, fmt.Errorf("packet %d: checksum %02X, its bytes give %02X: %w", number, got, want, ErrChecksum)
	}
	data, err = AppendUnpacked(nil, message[dataAt:n-2], FirstHigh)
	if err != nil {
		return number, nil, fmt.Errorf("packet %d: %w", number, err)
	}
	return number, data, nil
}
