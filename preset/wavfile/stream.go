package wavfile

import (
	"fmt"
	"io"
	"math"

	"echowright/preset"
)

// A Stream is the sound of a file, read block by block in memory that does not
// grow with its length. All but the samples is known as soon as it is open.
type Stream struct {
	Rate        preset.Hertz
	Channels    int
	Frames      int64 // samples of each channel in the whole file, at least 1
	Encoding    Encoding
	StartSample *uint64  // as in [Take]
	Warnings    []string // as in [Take]

	src    *source
	sound  chunk
	format format
	next   int64  // the frame to be read next, from 0
	raw    []byte // room for a few whole frames as they stand in the file
}

// rawBytes is how much of a file is read at once: enough that asking for it costs
// nothing beside decoding it.
const rawBytes = 64 << 10

// Open looks through all chunks of the WAV file of size bytes in r and refuses and
// warns as [Read] does, but for samples that are no numbers, which [Stream.Next]
// refuses where they stand. File is the name that errors begin with; r must stay
// open as long as the stream is read.
func Open(file string, r io.ReaderAt, size int64) (*Stream, error) {
	src := &source{file: file, r: r, size: size}
	if err := src.checkHead(); err != nil {
		return nil, err
	}
	parts, err := src.walk()
	if err != nil {
		return nil, err
	}
	if parts.format == nil {
		return nil, src.wrong(0, "has no fmt chunk, which says how its sound is written; export it again as WAV")
	}
	if parts.sound == nil {
		return nil, src.wrong(0, "has no data chunk, so no sound; record or export it again")
	}
	f, err := src.readFormat(*parts.format)
	if err != nil {
		return nil, err
	}
	sound, err := src.settle(parts, f)
	if err != nil {
		return nil, err
	}
	start, err := src.readStart(parts.broadcast)
	if err != nil {
		return nil, err
	}
	frames := sound.size / int64(f.frame)
	return &Stream{
		Rate: preset.Hertz(f.rate), Channels: f.channels, Frames: frames, Encoding: f.encoding, StartSample: start, Warnings: src.warnings,
		src: src, sound: sound, format: f, raw: make([]byte, min(frames, int64(rawBytes/f.frame))*int64(f.frame)),
	}, nil
}

// Next reads the next n frames into block, which has one slice a channel, all of
// one length of at least 1; full scale is −1 to 1. It reads less than block has
// room for only where the sound ends or fails, and gives [io.EOF] when there is no
// more. A sample that is no number is a [FormatError] that names it; the n frames
// before it are good and have been read. What block holds after n frames is not
// told. Next allocates nothing.
func (s *Stream) Next(block [][]float64) (n int, err error) {
	if err := s.checkBlock(block); err != nil {
		return 0, err
	}
	left := s.sound.size/int64(s.format.frame) - s.next
	if left == 0 {
		return 0, io.EOF
	}
	want := int(min(left, int64(len(block[0]))))
	for n < want && err == nil {
		var got int
		got, err = s.fill(block, n, want)
		n += got
	}
	return n, err
}

func (s *Stream) checkBlock(block [][]float64) error {
	if len(block) != s.format.channels {
		return fmt.Errorf("%s: reading %d channels into a block of %d: give it one slice a channel", s.src.file, s.format.channels, len(block))
	}
	for c, samples := range block {
		if len(samples) == 0 || len(samples) != len(block[0]) {
			return fmt.Errorf("%s: reading into a block with room for %d samples of channel %d and %d of channel 1: give each as much, at least 1",
				s.src.file, len(samples), c+1, len(block[0]))
		}
	}
	return nil
}

// fill reads as many of the frames from … to of block as there is raw room for.
func (s *Stream) fill(block [][]float64, from, to int) (n int, err error) {
	n = min(to-from, len(s.raw)/s.format.frame)
	raw := s.raw[:n*s.format.frame]
	if err := s.src.fill(s.offset(s.next), raw); err != nil {
		return 0, err
	}
	e := s.format.encoding
	decode := samplesOf[Encoding{Float: e.Float, Bits: e.Bits}]
	for c, samples := range block {
		decode(samples[from:from+n], raw[c*e.Bits/8:], s.format.frame)
	}
	if e.Float {
		n, err = s.checkFinite(block, from, n)
	}
	s.next += int64(n)
	return n, err
}

// offset is the byte at which a frame begins.
func (s *Stream) offset(frame int64) int64 { return s.sound.at + frame*int64(s.format.frame) }

// checkFinite gives how many of the n frames of block, which were just decoded, come
// before the first sample that is nan or inf.
func (s *Stream) checkFinite(block [][]float64, from, n int) (int, error) {
	bad := -1
	for c, samples := range block {
		if i := firstNotFinite(samples[from : from+n]); i >= 0 {
			bad, n = c, i
		}
	}
	if bad < 0 {
		return n, nil
	}
	at := s.next + int64(n)
	return n, s.src.wrong(s.offset(at), "sample %d of channel %d (at %.3f s) is %v, which is no sound; export the file again",
		at+1, bad+1, float64(at)/float64(s.format.rate), block[bad][from+n])
}

// firstNotFinite is the index of the first nan or inf, −1 if there is none.
func firstNotFinite(v []float64) int {
	for i, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return i
		}
	}
	return -1
}
