// Package wavfile turns WAV files into sound, whole or block by block, and sound
// into WAV files. It reads every common form (PCM of 8 to 32 bits, float of 32 and
// 64, plain and extensible, RIFF, RF64 and BW64) and lets nothing go silently
// wrong: what a header states is held against what the file has, and where a file
// can be read in spite of a flaw, the flaw is told as a warning.
//
// Read take.go first, then stream.go (the same in flat memory), chunks.go (where
// the sound lies), encoding.go (how a sample is written) and samples.go.
package wavfile

import (
	"encoding/binary"
	"io"
	"math"

	"echowright/preset"
)

// The forms of sound that are read and written.
const (
	MaxChannels = 8
	MinRate     = 8_000   // Hz
	MaxRate     = 192_000 // Hz
)

// A Take is the sound of a file.
type Take struct {
	Rate     preset.Hertz
	Channels [][]float64 // one slice a channel, all of one length; full scale is −1 to 1, float files may go beyond
	Encoding Encoding

	// StartSample is the sample since midnight at which the take begins, as
	// broadcast recorders note it (EBU Tech 3285, bext); nil if it is not told.
	StartSample *uint64

	// Warnings tell the flaws in spite of which the file was read, each a sentence.
	Warnings []string
}

// Frames is the number of samples of each channel.
func (t *Take) Frames() int {
	if len(t.Channels) == 0 {
		return 0
	}
	return len(t.Channels[0])
}

// Read reads the WAV file of size bytes in r whole. File is the name that errors
// begin with. What is wrong with a file is a [FormatError], what is right but not
// read here an [UnsupportedError]. Memory stays within a small multiple of size,
// whatever the header states; [Open] reads a file of hours in a few kilobytes.
func Read(file string, r io.ReaderAt, size int64) (*Take, error) {
	s, err := Open(file, r, size)
	if err != nil {
		return nil, err
	}
	if s.Frames > mostAtOnce {
		return nil, s.src.unsupported(s.sound.at, "the sound has %d frames, %d can be held in memory at once; export the part that matters", s.Frames, int64(mostAtOnce))
	}
	channels := make([][]float64, s.Channels)
	for c := range channels {
		channels[c] = make([]float64, s.Frames)
	}
	if _, err := s.Next(channels); err != nil {
		return nil, err
	}
	return &Take{Rate: s.Rate, Channels: channels, Encoding: s.Encoding, StartSample: s.StartSample, Warnings: s.Warnings}, nil
}

// mostAtOnce is the frames beyond which memory is not even asked for: no machine
// has as much, and to make a slice of more is a panic.
const mostAtOnce = min(1<<40, math.MaxInt) / 8

// readStart reads the 64-bit TimeReference at byte 338 of a bext chunk.
func (src *source) readStart(broadcast *chunk) (*uint64, error) {
	const offset, size = 338, 8
	if broadcast == nil {
		return nil, nil
	}
	if broadcast.size < offset+size {
		src.warn("the bext chunk at byte %d has %d bytes where the time of the take needs %d: the time was not read", broadcast.at-8, broadcast.size, offset+size)
		return nil, nil
	}
	b, err := src.bytes(broadcast.at+offset, size)
	if err != nil {
		return nil, err
	}
	start := binary.LittleEndian.Uint64(b)
	return &start, nil
}
