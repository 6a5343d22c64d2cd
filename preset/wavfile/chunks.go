package wavfile

import (
	"bytes"
	"encoding/binary"
	"io"
	"math"
	"unicode/utf8"
)

// A chunk is a stretch of the file: its content without id, size and pad byte.
type chunk struct {
	id   string
	at   int64
	size int64
}

// parts are the chunks that matter.
type parts struct {
	format, sound, broadcast *chunk

	wide       map[string]int64 // RF64: sizes of chunks that 32 bits cannot tell
	wideSound  int64
	unfinished bool // the size of data was never written
}

const (
	notTold = math.MaxUint32 // in RF64: look into ds64; else: the writer never knew
	// Real files have a dozen chunks; without an end, a file full of empty ones would take hours.
	mostChunks = 10_000
)

// others are the beginnings of files that are taken for WAV files.
var others = []struct{ begin, name string }{
	{"RIFX", "a WAV file in big-endian order"}, {"riff", "a Wave64 file"}, {"FORM", "an AIFF file"}, {"fLaC", "a FLAC file"},
	{"OggS", "an Ogg file"}, {"ID3", "an MP3 file"}, {"\xff\xfb", "an MP3 file"}, {"caff", "a CAF file"}, {".snd", "an AU file"},
}

// checkHead looks at the first twelve bytes: RIFF, size, WAVE.
func (src *source) checkHead() error {
	if src.size <= 0 {
		return src.wrong(0, "is empty; record or copy it again")
	}
	head, err := src.bytes(0, int(min(src.size, 12)))
	if err != nil {
		return err
	}
	for _, o := range others {
		if bytes.HasPrefix(head, []byte(o.begin)) {
			return src.unsupported(0, "is %s; convert it to a little-endian WAV file", o.name)
		}
	}
	switch id := string(head[:min(4, len(head))]); {
	case id != "RIFF" && id != "RF64" && id != "BW64" && isText(head):
		return src.wrong(0, "is no WAV file but text, beginning with %q; give a WAV file", head)
	case id != "RIFF" && id != "RF64" && id != "BW64":
		return src.wrong(0, "is no WAV file: it begins with % X, not with RIFF; give a WAV file", head)
	case len(head) < 12:
		return src.wrong(0, "ends after %d bytes, within its first header; copy it again", len(head))
	case string(head[8:]) != "WAVE":
		return src.wrong(8, "a RIFF file of the type %q, not WAVE; give a WAV file", head[8:])
	}
	return nil
}

func isText(b []byte) bool {
	for _, r := range string(b) {
		if r == utf8.RuneError || r < ' ' && r != '\n' && r != '\r' && r != '\t' {
			return false
		}
	}
	return true
}

// walk goes from chunk to chunk to the end of the file.
func (src *source) walk() (*parts, error) {
	p := &parts{}
	head, err := src.bytes(0, 8)
	if err != nil {
		return nil, err
	}
	at := int64(12)
	wide := string(head[:4]) != "RIFF"
	if wide {
		if at, err = src.readWide(p); err != nil {
			return nil, err
		}
	}
	for n := 0; at+8 <= src.size; n++ {
		if n == mostChunks {
			return nil, src.wrong(at, "more than %d chunks; export it again as WAV", mostChunks)
		}
		if at, err = src.step(p, at, wide); err != nil {
			return nil, err
		}
	}
	if !wide && !p.unfinished {
		err = src.checkEnd(at, int64(binary.LittleEndian.Uint32(head[4:]))+8)
	}
	return p, err
}

// checkEnd holds the size that the header states against that of the file, whose
// last chunk ends at at. Writers differ on whether a last pad byte is counted and
// written. Bytes left over in a file of the right size mean that the size of a
// chunk is wrong; in one of another size they may be anything.
func (src *source) checkEnd(at, stated int64) error {
	left := max(0, src.size-at)
	if gap := stated - src.size; gap < -1 || gap > 1 {
		src.warn("the header states %d bytes, the file has %d: it was read chunk by chunk", stated, src.size)
		if left > 0 {
			src.warn("the last %d bytes of the file are no chunk and were not read", left)
		}
		return nil
	}
	if left > 0 {
		return src.wrong(at, "no chunk fits into the last %d bytes: the size before them is wrong; copy or export it again", left)
	}
	return nil
}

// readWide reads ds64, which comes first in RF64 and BW64 (ITU-R BS.2088-1):
// three sizes of 64 bits (file, data, samples), then a table of further chunks.
func (src *source) readWide(p *parts) (int64, error) {
	const at, least = 12, 28
	if src.size < at+8+least {
		return 0, src.wrong(at, "ends within its ds64 chunk; copy it again")
	}
	b, err := src.bytes(at, 8+least)
	if err != nil {
		return 0, err
	}
	size := int64(binary.LittleEndian.Uint32(b[4:]))
	if string(b[:4]) != "ds64" || size < least || at+8+size > src.size {
		return 0, src.wrong(at, "an RF64 file needs a ds64 chunk of at least %d bytes here; export it again as WAV", least)
	}
	p.wideSound = clamp(binary.LittleEndian.Uint64(b[16:]))
	rows := min(int64(binary.LittleEndian.Uint32(b[32:])), (size-least)/12, mostChunks)
	table, err := src.bytes(at+8+least, int(12*rows))
	if err != nil {
		return 0, err
	}
	p.wide = make(map[string]int64, rows)
	for ; len(table) > 0; table = table[12:] {
		p.wide[string(table[:4])] = clamp(binary.LittleEndian.Uint64(table[4:]))
	}
	return at + 8 + padded(size), nil
}

// clamp makes a size that no file has one that can be reckoned with.
func clamp(size uint64) int64 { return int64(min(size, math.MaxInt64/4)) }

// padded is the room that size bytes take: a chunk begins at an even byte.
func padded(size int64) int64 { return size + size&1 }

// step takes note of the chunk at that byte and gives where the next begins.
func (src *source) step(p *parts, at int64, wide bool) (int64, error) {
	b, err := src.bytes(at, 8)
	if err != nil {
		return 0, err
	}
	c := chunk{id: string(b[:4]), at: at + 8, size: int64(binary.LittleEndian.Uint32(b[4:]))}
	if wide && c.size == notTold {
		c.size = p.wide[c.id]
		if c.id == "data" {
			c.size = p.wideSound
		}
	}
	if !isName(c.id) {
		return src.junk(p, at, b)
	}
	rest := src.size - c.at
	if c.id == "data" && p.sound == nil && src.neverWritten(c, rest, wide) {
		src.warn("the size of its sound was never written (the recorder was stopped?): the rest of the file, %d bytes, was taken", rest)
		c.size, p.unfinished = rest, true
	}
	if c.size > rest {
		return src.size, src.cutShort(p, c, rest)
	}
	src.note(p, c)
	return c.at + padded(c.size), nil
}

// neverWritten is whether the size of the sound is one of those that stand in a file
// until its writer comes back to put in the true one: 0, or the most that it can
// tell. SoX 14.4.2, writing into a pipe, takes 7FFFF000h down to a whole frame.
func (src *source) neverWritten(c chunk, rest int64, wide bool) bool {
	const sox, widestFrame = 0x7FFFF000, 8 * MaxChannels
	switch {
	case c.size == 0:
		return rest > 0 && !src.chunksFollow(c.at)
	case wide: // the size is that of ds64
		return false
	}
	return c.size == notTold || c.size > rest && c.size > sox-widestFrame && c.size <= sox
}

func (src *source) note(p *parts, c chunk) {
	slot := map[string]**chunk{"fmt ": &p.format, "data": &p.sound, "bext": &p.broadcast}[c.id]
	switch {
	case slot == nil:
	case *slot != nil:
		src.warn("a second %q chunk at byte %d was not read", c.id, c.at-8)
	default:
		if c.id == "data" && p.format == nil {
			src.warn("its sound stands before the chunk that says how it is written")
		}
		*slot = &c
	}
}

// cutShort tells of a chunk that reaches beyond the end of the file. After the
// sound only a warning: nothing that is wanted is lost.
func (src *source) cutShort(p *parts, c chunk, rest int64) error {
	if p.sound != nil && c.id != "fmt " && c.id != "data" {
		src.warn("the chunk %q at byte %d states %d bytes, of which the file has %d: it was not read", c.id, c.at-8, c.size, rest)
		return nil
	}
	return src.wrong(c.at-8, "the chunk %q states %d bytes, of which the file has %d: it was cut short or its size is wrong; copy or export it again",
		c.id, c.size, rest)
}

// junk is what stands where a chunk should begin. Zeros after the sound are
// harmless; anything else means that a size before it was wrong.
func (src *source) junk(p *parts, at int64, head []byte) (int64, error) {
	if p.sound != nil && src.zerosFrom(at) {
		src.warn("the last %d bytes of the file are zeros and were not read", src.size-at)
		return src.size, nil
	}
	return 0, src.wrong(at, "no chunk begins here (% X): the size before it is wrong, or the file is damaged; copy or export it again", head[:4])
}

func (src *source) zerosFrom(at int64) bool {
	r := io.NewSectionReader(src.r, at, src.size-at)
	block := make([]byte, 4096)
	for {
		n, err := r.Read(block)
		if len(bytes.Trim(block[:n], "\x00")) > 0 {
			return false
		}
		if err != nil {
			return err == io.EOF
		}
	}
}

// chunksFollow tells data that is really empty from data whose size was never
// written: after the former come whole chunks up to the end.
func (src *source) chunksFollow(at int64) bool {
	for n := 0; n < mostChunks && at+8 <= src.size; n++ {
		b, err := src.bytes(at, 8)
		if err != nil || !isName(string(b[:4])) {
			return false
		}
		at += 8 + padded(int64(binary.LittleEndian.Uint32(b[4:])))
	}
	return at == src.size || at == src.size+1
}

// isName is whether a chunk may be called so: four printable ASCII characters.
func isName(id string) bool {
	for _, c := range []byte(id) {
		if c < ' ' || c > '~' {
			return false
		}
	}
	return true
}
