package profiles

import (
	"maps"

	"echowright/midi"
)

// ruleFile is how a checksum is reckoned, in a message or in a memory.
type ruleFile struct {
	Kind       string `toml:"kind"`
	Polynomial int    `toml:"polynomial"` // of a CRC
	Start      int    `toml:"start"`      // what the register or the sum starts with
	Reflected  bool   `toml:"reflected"`
	FinalXOR   int    `toml:"final_xor"`
}

// A checksum makes one number of a range of bytes; where it is kept says how
// many of its bits count.
type checksum struct {
	kind string
	of   func([]byte) int
	bits int // as many as it has; 0: as many as there is room for
}

const kindCRC16 = "crc-16"

// sums are the rules that a profile can name besides CRCs.
var sums = map[string]func(start int) func([]byte) int{
	"sum":             func(start int) func([]byte) int { return func(b []byte) int { return start + sum(b) } },
	"twos-complement": func(start int) func([]byte) int { return func(b []byte) int { return -(start + sum(b)) } },
	"ones-complement": func(start int) func([]byte) int { return func(b []byte) int { return ^(start + sum(b)) } },
	"xor":             func(start int) func([]byte) int { return func(b []byte) int { return start ^ int(midi.XOR(b)) } },
}

func sum(b []byte) int {
	s := 0
	for _, c := range b {
		s += int(c)
	}
	return s
}

// checksum makes the rule that a profile states at path.
func (b *builder) checksum(path string, f ruleFile) *checksum {
	for _, v := range []struct {
		key string
		v   int
	}{{"polynomial", f.Polynomial}, {"start", f.Start}, {"final_xor", f.FinalXOR}} {
		b.inRange(path+"."+v.key, v.v, 0, 0xFFFF)
	}
	if f.Kind == kindCRC16 {
		if f.Polynomial == 0 {
			b.add(path+".polynomial", "is missing: a CRC is defined by its polynomial, such as 0x1021")
		}
		crc := midi.CRC16{
			Poly: uint16(f.Polynomial), Init: uint16(f.Start), XorOut: uint16(f.FinalXOR),
			ReflectIn: f.Reflected, ReflectOut: f.Reflected,
		}
		return &checksum{kind: f.Kind, bits: 16, of: func(b []byte) int { return int(crc.Sum(b)) }}
	}
	kinds := maps.Clone(sums)
	kinds[kindCRC16] = nil
	rule, ok := known(b, path+".kind", f.Kind, kinds)
	if !ok {
		return &checksum{kind: f.Kind, of: sum} // told once, not again at every message
	}
	if f.Polynomial != 0 || f.Reflected || f.FinalXOR != 0 {
		b.add(path+".kind", "%q has neither polynomial, reflected nor final_xor: those belong to %s", f.Kind, kindCRC16)
	}
	of := rule(f.Start)
	return &checksum{kind: f.Kind, of: of}
}
