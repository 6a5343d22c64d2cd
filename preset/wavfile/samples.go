package wavfile

import (
	"encoding/binary"
	"math"
)

// settle is the sound in whole frames; without one there is nothing to read.
func (src *source) settle(p *parts, f format) (chunk, error) {
	c := *p.sound
	if over := c.size % int64(f.frame); over > 0 {
		src.warn("the sound ends within a frame: its last %d bytes were dropped", over)
		c.size -= over
	}
	if c.size == 0 {
		return c, src.wrong(c.at, "the sound has no samples: nothing was recorded; record or export it again")
	}
	return c, nil
}

// A decoder turns one channel's samples, of which a frame of src holds one at
// its beginning, into fractions of full scale.
type decoder func(dst []float64, src []byte, frame int)

// samplesOf has a decoder for every encoding that is read.
var samplesOf = map[Encoding]decoder{
	{Bits: 8}:               pcm8,
	{Bits: 16}:              pcm16,
	{Bits: 24}:              pcm24,
	{Bits: 32}:              pcm32,
	{Float: true, Bits: 32}: float32s,
	{Float: true, Bits: 64}: float64s,
}

// pcm8 is the one without sign: 80h is silence.
func pcm8(dst []float64, src []byte, frame int) {
	for i := range dst {
		dst[i] = (float64(src[i*frame]) - 128) / (1 << 7)
	}
}

func pcm16(dst []float64, src []byte, frame int) {
	for i := range dst {
		dst[i] = float64(int16(binary.LittleEndian.Uint16(src[i*frame:]))) / (1 << 15)
	}
}

func pcm24(dst []float64, src []byte, frame int) {
	for i := range dst {
		b := src[i*frame : i*frame+3]
		v := uint32(b[0])<<8 | uint32(b[1])<<16 | uint32(b[2])<<24
		dst[i] = float64(int32(v)) / (1 << 31)
	}
}

func pcm32(dst []float64, src []byte, frame int) {
	for i := range dst {
		dst[i] = float64(int32(binary.LittleEndian.Uint32(src[i*frame:]))) / (1 << 31)
	}
}

func float32s(dst []float64, src []byte, frame int) {
	for i := range dst {
		dst[i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(src[i*frame:])))
	}
}

func float64s(dst []float64, src []byte, frame int) {
	for i := range dst {
		dst[i] = math.Float64frombits(binary.LittleEndian.Uint64(src[i*frame:]))
	}
}
