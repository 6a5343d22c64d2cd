package wavfile

import (
	"bufio"
	"fmt"
	"io"
	"math"

	"echowright/preset"
)

// A Writer writes a WAV file as [Write] does, but block by block, in memory that
// does not grow with its length. Make it with [NewWriter].
type Writer struct {
	Clipped int // samples so far that lay beyond full scale

	out      *bufio.Writer
	encoding Encoding
	channels int
	frames   int64 // that were announced
	written  int64
}

// NewWriter begins a file of so many channels and frames: a WAV file says first
// how long it is.
func NewWriter(w io.Writer, rate preset.Hertz, channels int, frames int64, e Encoding) (*Writer, error) {
	if err := checkForm(rate, channels, frames, e); err != nil {
		return nil, fmt.Errorf("writing a WAV file: %w", err)
	}
	out := bufio.NewWriterSize(w, 64<<10)
	out.Write(header(int(rate), channels, int(frames), e)) // its error is kept for Flush
	return &Writer{out: out, encoding: e, channels: channels, frames: frames}, nil
}

// Write writes the next frames: a slice a channel, all of one length.
func (w *Writer) Write(block [][]float64) error {
	if len(block) != w.channels {
		return fmt.Errorf("writing a WAV file: a block of %d channels into a file of %d", len(block), w.channels)
	}
	if err := checkSamples(block, w.written, w.encoding); err != nil {
		return fmt.Errorf("writing a WAV file: %w", err)
	}
	if w.written += int64(len(block[0])); w.written > w.frames {
		return fmt.Errorf("writing a WAV file: %d samples and more, where %d were announced", w.written, w.frames)
	}
	if err := w.put(block); err != nil {
		return fmt.Errorf("writing a WAV file: %w", err)
	}
	return nil
}

func (w *Writer) put(block [][]float64) error {
	put, width := putPCM24, w.encoding.Bits/8
	if w.encoding.Float {
		put = putFloat32
	}
	var sample [4]byte
	for i := range block[0] {
		for _, channel := range block {
			if put(sample[:], channel[i]) {
				w.Clipped++
			}
			if _, err := w.out.Write(sample[:width]); err != nil {
				return err
			}
		}
	}
	return nil
}

// Close ends the file, not what it is written to. A file with less sound than was
// announced is an error.
func (w *Writer) Close() error {
	if w.written != w.frames {
		return fmt.Errorf("writing a WAV file: %d samples, where %d were announced", w.written, w.frames)
	}
	if w.frames*int64(w.channels*w.encoding.Bits/8)%2 == 1 {
		w.out.WriteByte(0) // chunks are of even size
	}
	if err := w.out.Flush(); err != nil { // a bufio.Writer keeps its first error
		return fmt.Errorf("writing a WAV file: %w", err)
	}
	return nil
}

// checkForm says why there is no file of that form.
func checkForm(rate preset.Hertz, channels int, frames int64, e Encoding) error {
	switch {
	case e != PCM24 && e != Float32:
		return fmt.Errorf("%v is not written: 24-bit PCM or 32-bit float", e)
	case rate != preset.Hertz(math.Round(float64(rate))) || rate < MinRate || rate > MaxRate:
		return fmt.Errorf("a sample rate of %v: a whole number from %d to %d Hz", rate, MinRate, MaxRate)
	case channels == 0 || channels > MaxChannels:
		return fmt.Errorf("%d channels: 1 to %d", channels, MaxChannels)
	}
	const head = 64 // bytes, more than the longest header
	if most := (math.MaxUint32 - head) / int64(channels*e.Bits/8); frames < 0 || frames > most {
		return fmt.Errorf("%d samples: %d at most fit into the 4 GiB of a WAV file", frames, most)
	}
	return nil
}

// checkSamples says why no file can hold the block, whose first frame is number
// from of the file, counted from 0.
func checkSamples(block [][]float64, from int64, e Encoding) error {
	for c, channel := range block {
		if len(channel) != len(block[0]) {
			return fmt.Errorf("channel %d has %d samples and channel 1 has %d: they must be as long", c+1, len(channel), len(block[0]))
		}
		for i, v := range channel {
			if math.IsNaN(v) || math.IsInf(v, 0) || e.Float && math.Abs(v) > math.MaxFloat32 {
				return fmt.Errorf("sample %d of channel %d is %v: no file can hold it as sound", from+int64(i)+1, c+1, v)
			}
		}
	}
	return nil
}
