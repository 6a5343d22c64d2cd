package wavfile

import (
	"encoding/binary"
	"fmt"
)

// An Encoding is how a sample is written: whole numbers (PCM) or floating point.
type Encoding struct {
	Float     bool
	Bits      int // of the room that a sample takes: 8, 16, 24, 32 or 64
	ValidBits int // of them in use, at the top; mostly all
}

// The encodings that are written.
var (
	PCM24   = Encoding{Bits: 24, ValidBits: 24}
	Float32 = Encoding{Float: true, Bits: 32, ValidBits: 32}
)

func (e Encoding) String() string {
	name := "PCM"
	if e.Float {
		name = "float"
	}
	if e.ValidBits != e.Bits {
		return fmt.Sprintf("%d-bit %s in %d bits", e.ValidBits, name, e.Bits)
	}
	return fmt.Sprintf("%d-bit %s", e.Bits, name)
}

// Format tags of the fmt chunk.
const (
	tagPCM        = 0x0001
	tagFloat      = 0x0003
	tagExtensible = 0xFFFE
)

// foreign names the codes met most often that are not read here.
var foreign = map[uint16]string{
	0x0002: "ADPCM", 0x0006: "A-law", 0x0007: "µ-law", 0x0011: "IMA ADPCM", 0x0031: "GSM 6.10",
	0x0050: "MPEG", 0x0055: "MPEG layer 3", 0x0092: "AC-3",
}

// subFormat is what follows the format tag in the GUID of an extensible file.
var subFormat = [14]byte{0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71}

// A format is the content of the fmt chunk.
type format struct {
	encoding Encoding
	channels int
	rate     int
	frame    int // bytes of one sample of all channels
}

// readFormat reads and checks the fmt chunk: tag, channels, rate, bytes a second,
// bytes a frame, bits; if extensible then valid bits, channel mask and GUID.
func (src *source) readFormat(c chunk) (format, error) {
	const plain, extensible = 16, 40
	if c.size < plain {
		return format{}, src.wrong(c.at, "the fmt chunk has %d bytes where %d are the least; export the file again as WAV", c.size, plain)
	}
	b, err := src.bytes(c.at, int(min(c.size, extensible)))
	if err != nil {
		return format{}, err
	}
	u16 := func(at int) int { return int(binary.LittleEndian.Uint16(b[at:])) }
	tag, bits, valid := u16(0), u16(14), u16(14)
	if tag == tagExtensible {
		if len(b) < extensible || u16(16) < extensible-plain-2 {
			return format{}, src.wrong(c.at, "the fmt chunk is extensible but has %d bytes where %d are the least; export the file again as WAV", c.size, extensible)
		}
		if [14]byte(b[26:40]) != subFormat {
			return format{}, src.unsupported(c.at, "the sound is in a code with the GUID % X; convert it to PCM or float", b[24:40])
		}
		tag = u16(24)
		if v := u16(18); v != 0 { // 0: some writers leave it so
			valid = v
		}
	}
	f := format{channels: u16(2), rate: int(binary.LittleEndian.Uint32(b[4:])), frame: u16(12)}
	if f.encoding, err = src.encoding(c.at, uint16(tag), bits, valid); err != nil {
		return format{}, err
	}
	if second := int64(binary.LittleEndian.Uint32(b[8:])); second != int64(f.rate)*int64(f.frame) {
		src.warn("the header states %d bytes a second, which at %d Hz must be %d: not used", second, f.rate, int64(f.rate)*int64(f.frame))
	}
	return f, src.checkFormat(c.at, f)
}

func (src *source) encoding(at int64, tag uint16, bits, valid int) (Encoding, error) {
	e := Encoding{Float: tag == tagFloat, Bits: (bits + 7) / 8 * 8, ValidBits: valid}
	switch {
	case tag != tagPCM && tag != tagFloat:
		name := foreign[tag]
		if name == "" {
			name = "a code unknown here"
		}
		return e, src.unsupported(at, "the sound is in %s (format tag %04X); convert it to PCM or float", name, tag)
	case bits == 0 || valid > e.Bits:
		return e, src.wrong(at, "the header states %d bits a sample, %d of them in use; export the file again as WAV", bits, valid)
	case samplesOf[Encoding{Float: e.Float, Bits: e.Bits}] == nil:
		return e, src.unsupported(at, "the sound is %v; convert it to PCM of 8, 16, 24 or 32 bits or float of 32 or 64", e)
	}
	return e, nil
}

func (src *source) checkFormat(at int64, f format) error {
	frame := f.channels * f.encoding.Bits / 8
	switch {
	case f.channels == 0:
		return src.wrong(at, "the header states 0 channels; export the file again as WAV")
	case f.rate == 0:
		return src.wrong(at, "the header states a sample rate of 0 Hz; export the file again as WAV")
	case f.channels > MaxChannels:
		return src.unsupported(at, "the sound has %d channels, %d can be read; export the ones that matter", f.channels, MaxChannels)
	case f.rate < MinRate || f.rate > MaxRate:
		return src.unsupported(at, "the sample rate is %d Hz, %d to %d can be read; convert it", f.rate, MinRate, MaxRate)
	case f.frame != frame:
		return src.wrong(at, "the header states %d bytes a frame, which with %d channels of %d bits must be %d; export the file again as WAV",
			f.frame, f.channels, f.encoding.Bits, frame)
	}
	return nil
}
