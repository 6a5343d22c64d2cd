package profiles

import (
	"fmt"

	"echowright/midi"
)

// A packing is how bytes of 8 bits travel in bytes of 7.
type packing struct {
	length func(n int) int
	pack   func(dst, src []byte) []byte
	unpack func(dst, src []byte) ([]byte, error)
}

// packings are those that a profile can name.
var packings = map[string]packing{
	"file-dump":          grouped(midi.FirstHigh),
	"mirrored":           grouped(midi.FirstLow),
	"nibbles-high-first": nibbled(midi.HighNibbleFirst),
	"nibbles-low-first":  nibbled(midi.LowNibbleFirst),
	"none":               {length: func(n int) int { return n }, pack: appendPlain, unpack: appendChecked},
}

func grouped(o midi.BitOrder) packing {
	return packing{
		length: midi.PackedLength,
		pack:   func(dst, src []byte) []byte { return midi.AppendPacked(dst, src, o) },
		unpack: func(dst, src []byte) ([]byte, error) { return midi.AppendUnpacked(dst, src, o) },
	}
}

func nibbled(o midi.NibbleOrder) packing {
	return packing{
		length: func(n int) int { return 2 * n },
		pack:   func(dst, src []byte) []byte { return midi.AppendNibbles(dst, src, o) },
		unpack: func(dst, src []byte) ([]byte, error) { return midi.AppendFromNibbles(dst, src, o) },
	}
}

// appendPlain is for a memory whose bytes have 7 bits already; a template
// refuses others.
func appendPlain(dst, src []byte) []byte { return append(dst, src...) }

func appendChecked(dst, src []byte) ([]byte, error) {
	for i, b := range src {
		if b > midi.MaxValue7 {
			return dst, fmt.Errorf("byte %d of the dump is %02X: wanted 00 to 7F", i, b)
		}
	}
	return append(dst, src...), nil
}
