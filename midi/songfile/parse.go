package songfile

import (
	"encoding/binary"
	"fmt"
)

const (
	chunkHeader  = 8 // name and length
	headerLength = 6 // of the header's data: format, tracks, division
)

// parser is a file on its way into tracks. What a chunk says of its length is
// held against the bytes that are there before anything is made of it.
type parser struct {
	file string
	b    []byte
	at   int // the next byte
}

func (p *parser) wrong(at int, format string, args ...any) error {
	return &FormatError{p.file, at, fmt.Sprintf(format, args...)}
}

func (p *parser) unsupported(at int, format string, args ...any) error {
	return &UnsupportedError{p.file, at, fmt.Sprintf(format, args...)}
}

// Parse reads the bytes of a Standard MIDI File; file names it in errors, which
// are [*FormatError] or [*UnsupportedError]. Chunks that the standard does not
// know are passed over, and so is what stands behind the last track. The result
// holds nothing of b.
func Parse(file string, b []byte) (File, error) {
	p := &parser{file: file, b: b}
	f, tracks, err := p.header()
	if err != nil {
		return File{}, err
	}
	for {
		body, found, err := p.nextTrack(len(f.Tracks), tracks)
		if err != nil {
			return File{}, err
		}
		if !found {
			return f, nil
		}
		t, err := p.track(len(f.Tracks)+1, body)
		if err != nil {
			return File{}, err
		}
		f.Tracks = append(f.Tracks, t)
	}
}

func (p *parser) header() (f File, tracks int, err error) {
	switch name, length, whole := p.chunk(); {
	case len(p.b) == 0:
		return f, 0, p.wrong(0, "an empty file")
	case len(p.b) >= 4 && name != "MThd":
		return f, 0, p.wrong(0, "begins with %q: a Standard MIDI File begins with MThd", name)
	case !whole:
		return f, 0, p.wrong(0, "%d bytes: a header alone takes %d", len(p.b), chunkHeader+headerLength)
	case length < headerLength:
		return f, 0, p.wrong(4, "a header of %d bytes: wanted %d or more", length, headerLength)
	case length > int64(len(p.b)-chunkHeader):
		return f, 0, p.wrong(4, "a header of %d bytes where %d are left: the file is cut or its length lies", length, len(p.b)-chunkHeader)
	default:
		p.at = chunkHeader + int(length)
	}
	word := func(at int) int { return int(binary.BigEndian.Uint16(p.b[at:])) }
	f, tracks = File{Format: word(8), Division: word(12)}, word(10)
	return f, tracks, p.checkHeader(f, tracks)
}

func (p *parser) checkHeader(f File, tracks int) error {
	switch {
	case f.Format == 2:
		return p.unsupported(8, "format 2: its tracks are songs of their own with a tempo each: save them as files of format 1")
	case f.Format > 2:
		return p.unsupported(8, "format %d: formats 0 and 1 are read", f.Format)
	case f.Division > MaxDivision:
		frames, ticks := -int(int8(f.Division>>8)), f.Division&0xFF
		return p.unsupported(12, "time in SMPTE frames (%d a second, %d ticks each): it has no tempo and no bars: save it with ticks per quarter note", frames, ticks)
	case f.Division == 0:
		return p.wrong(12, "0 ticks per quarter note: wanted 1 to %d", MaxDivision)
	case tracks == 0, f.Format == 0 && tracks != 1:
		return p.wrong(10, "%d tracks in a file of format %d: format 0 has one, format 1 one or more", tracks, f.Format)
	}
	return nil
}

// chunk looks at the chunk that begins here: whole is false where not even its
// name and length are there.
func (p *parser) chunk() (name string, length int64, whole bool) {
	rest := p.b[p.at:]
	if len(rest) < chunkHeader {
		return string(rest[:min(4, len(rest))]), 0, false
	}
	return string(rest[:4]), int64(binary.BigEndian.Uint32(rest[4:])), true
}

// nextTrack goes on to the next track and gives its bytes. Behind the last one
// nothing can be missing any more, so that only another track is wrong there.
func (p *parser) nextTrack(have, wanted int) (body []byte, found bool, err error) {
	for {
		start := p.at
		name, length, whole := p.chunk()
		left := int64(len(p.b) - start - chunkHeader)
		switch {
		case have == wanted && (!whole || name != "MTrk" && length > left):
			return nil, false, nil
		case !whole:
			return nil, false, p.wrong(start, "the file ends after %d of %d tracks", have, wanted)
		case have == wanted && name == "MTrk":
			return nil, false, p.wrong(start, "one more track than the %d that the header states", wanted)
		case length > left:
			return nil, false, p.wrong(start+4, "chunk %q of %d bytes where %d are left: the file is cut or its length lies", name, length, left)
		}
		p.at = start + chunkHeader + int(length)
		if name == "MTrk" {
			return p.b[start+chunkHeader : p.at], true, nil
		}
	}
}
