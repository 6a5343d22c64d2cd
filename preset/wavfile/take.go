// Package wavfile turns WAV files into sound in memory and sound into WAV files.
// It reads every common form (PCM of 8 to 32 bits, float of 32 and 64, plain and
// extensible, RIFF, RF64 and BW64) and lets nothing go silently wrong: what a
// header states is held against what the file has, and where a file can be read
// in spite of a flaw, the flaw is told as a warning.
//
// Read take.go first, then chunks.go (where the sound lies), encoding.go (how a
// sample is written) and samples.go.
package wavfile

import (
	"encoding/binary"
	"fmt"
	"io"

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
// whatever the header states.
func Read(file string, r io.ReaderAt, size int64) (*Take, error) {
	take, err := read(&source{file: file, r: r, size: size})
	if err != nil {
		return nil, err
	}
	return take, nil
}

func read(src *source) (*Take, error) {
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
	take := &Take{Rate: preset.Hertz(f.rate), Encoding: f.encoding}
	if take.Channels, err = src.readSamples(sound, f); err != nil {
		return nil, err
	}
	if take.StartSample, err = src.readStart(parts.broadcast); err != nil {
		return nil, err
	}
	take.Warnings = src.warnings
	return take, nil
}

// readStart reads the 64-bit TimeReference at byte 338 of a bext chunk.
func (src *source) readStart(broadcast *chunk) (*uint64, error) {
	const offset = 338
	if broadcast == nil || broadcast.size < offset+8 {
		return nil, nil
	}
	b, err := src.bytes(broadcast.at+offset, 8)
	if err != nil {
		return nil, err
	}
	start := binary.LittleEndian.Uint64(b)
	return &start, nil
}

// A source is the file being read, and what was noticed on the way.
type source struct {
	file     string
	r        io.ReaderAt
	size     int64
	warnings []string
}

func (src *source) warn(format string, args ...any) {
	src.warnings = append(src.warnings, fmt.Sprintf(format, args...))
}

// bytes reads a few bytes that lie within the file.
func (src *source) bytes(at int64, n int) ([]byte, error) {
	b := make([]byte, n)
	return b, src.fill(at, b)
}

func (src *source) fill(at int64, b []byte) error {
	if n, err := src.r.ReadAt(b, at); n < len(b) {
		if err == io.EOF {
			return src.wrong(at, "ends here, having become shorter while it was read; wait until it is copied whole")
		}
		return fmt.Errorf("%s: reading at byte %d: %w", src.file, at, err)
	}
	return nil
}
