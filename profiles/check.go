package profiles

import "echowright/midi"

// A checksum is one 7-bit byte made of a range of a message.
type checksum func([]byte) byte

// checksums are the rules that a profile can name for {sum}.
var checksums = map[string]checksum{
	"twos-complement": midi.TwosComplement,
	"ones-complement": midi.OnesComplement,
	"sum":             midi.PlainSum,
	"xor":             midi.XOR,
}

// packings are the ways that a profile can name in which bytes of 8 bits travel
// in bytes of 7.
var packings = map[string]midi.BitOrder{
	"file-dump": midi.FirstHigh,
	"mirrored":  midi.FirstLow,
}
