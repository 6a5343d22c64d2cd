package wavfile

import (
	"encoding/binary"
	"io"
	"math"

	"echowright/preset"
)

// Write writes channels (1 to 8, all of one length, full scale −1 to 1) as a
// plain WAV file in one of the encodings [PCM24] and [Float32]. PCM is rounded to
// the nearest step; what lies beyond full scale is clipped and counted, so that
// the caller can tell (+1 itself, for which PCM lacks one step, does not count).
// Nan and inf are refused before anything is written.
func Write(w io.Writer, rate preset.Hertz, channels [][]float64, e Encoding) (clipped int, err error) {
	frames := 0
	if len(channels) > 0 {
		frames = len(channels[0])
	}
	out, err := NewWriter(w, rate, len(channels), int64(frames), e)
	if err != nil {
		return 0, err
	}
	if err := out.Write(channels); err != nil { // all are checked before the first is written
		return 0, err
	}
	return out.Clipped, out.Close()
}

// header is everything before the first sample. Float files have a longer fmt
// chunk and a fact chunk with the number of frames.
func header(rate, channels, frames int, e Encoding) []byte {
	var b []byte
	u16 := func(v int) { b = binary.LittleEndian.AppendUint16(b, uint16(v)) }
	u32 := func(v int) { b = binary.LittleEndian.AppendUint32(b, uint32(v)) }
	frame := channels * e.Bits / 8
	tag, formatSize, factSize := tagPCM, 16, 0
	if e.Float {
		tag, formatSize, factSize = tagFloat, 18, 12
	}
	b = append(b, "RIFF"...)
	u32(4 + 8 + formatSize + factSize + 8 + frames*frame + frames*frame%2)
	b = append(b, "WAVEfmt "...)
	u32(formatSize)
	u16(tag)
	u16(channels)
	u32(rate)
	u32(rate * frame)
	u16(frame)
	u16(e.Bits)
	if e.Float {
		u16(0) // nothing follows in this chunk
		b = append(b, "fact"...)
		u32(4)
		u32(frames)
	}
	b = append(b, "data"...)
	u32(frames * frame)
	return b
}

// putPCM24 says whether v was clipped.
func putPCM24(b []byte, v float64) bool {
	const steps = 1 << 23
	n := int32(math.Round(math.Max(-steps, math.Min(steps-1, v*steps))))
	b[0], b[1], b[2] = byte(n), byte(n>>8), byte(n>>16)
	return v > 1 || v < -1
}

func putFloat32(b []byte, v float64) bool {
	binary.LittleEndian.PutUint32(b, math.Float32bits(float32(v)))
	return false
}
