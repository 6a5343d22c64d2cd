package wavfile

import (
	"bufio"
	"encoding/binary"
	"fmt"
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
	if err := checkSound(rate, channels, e); err != nil {
		return 0, fmt.Errorf("writing a WAV file: %w", err)
	}
	out := bufio.NewWriterSize(w, 64<<10)
	out.Write(header(int(rate), len(channels), len(channels[0]), e))
	put, width := putPCM24, e.Bits/8
	if e.Float {
		put = putFloat32
	}
	var sample [4]byte
	for i := range channels[0] {
		for _, channel := range channels {
			if put(sample[:], channel[i]) {
				clipped++
			}
			out.Write(sample[:width])
		}
	}
	if len(channels)*len(channels[0])*width%2 == 1 {
		out.WriteByte(0)
	}
	if err := out.Flush(); err != nil { // a bufio.Writer keeps its first error
		return 0, fmt.Errorf("writing a WAV file: %w", err)
	}
	return clipped, nil
}

func checkSound(rate preset.Hertz, channels [][]float64, e Encoding) error {
	switch {
	case e != PCM24 && e != Float32:
		return fmt.Errorf("%v is not written: 24-bit PCM or 32-bit float", e)
	case rate != preset.Hertz(math.Round(float64(rate))) || rate < MinRate || rate > MaxRate:
		return fmt.Errorf("a sample rate of %v: a whole number from %d to %d Hz", rate, MinRate, MaxRate)
	case len(channels) == 0 || len(channels) > MaxChannels:
		return fmt.Errorf("%d channels: 1 to %d", len(channels), MaxChannels)
	}
	const head = 64 // bytes, more than the longest header
	if most := (math.MaxUint32 - head) / int64(len(channels)*e.Bits/8); int64(len(channels[0])) > most {
		return fmt.Errorf("%d samples: %d at most fit into the 4 GiB of a WAV file", len(channels[0]), most)
	}
	for c, channel := range channels {
		if len(channel) != len(channels[0]) {
			return fmt.Errorf("channel %d has %d samples and channel 1 has %d: they must be as long", c+1, len(channel), len(channels[0]))
		}
		for i, v := range channel {
			if math.IsNaN(v) || math.IsInf(v, 0) || e.Float && math.Abs(v) > math.MaxFloat32 {
				return fmt.Errorf("sample %d of channel %d is %v: no file can hold it as sound", i+1, c+1, v)
			}
		}
	}
	return nil
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
