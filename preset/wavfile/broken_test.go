package wavfile

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"
)

var errDisk = errors.New("input/output error")

// failing is a disk with a bad spot.
type failing struct {
	r   io.ReaderAt
	bad int64
}

func (f failing) ReadAt(b []byte, at int64) (int, error) {
	if at+int64(len(b)) > f.bad {
		return 0, errDisk
	}
	return f.r.ReadAt(b, at)
}

func float32Chunk(values ...float32) []byte {
	var b []byte
	for _, v := range values {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(v))
	}
	return piece("data", b)
}

// brokenTakes is the corpus of files that cannot be read, with what is said.
func brokenTakes(t testing.TB) []struct {
	name        string
	file        []byte
	want        string
	unsupported bool
} {
	whole := riff(mono16, sound4)
	extensible := unhex(t, extensibleBody)
	foreignGUID := bytes.Clone(extensible)
	foreignGUID[30] = 0x7F
	aLawExtensible := bytes.Clone(extensible)
	aLawExtensible[24] = 6
	tooManyValid := bytes.Clone(extensible)
	tooManyValid[18] = 33
	nan := float32(math.NaN())
	return []struct {
		name        string
		file        []byte
		want        string
		unsupported bool
	}{
		{"an empty file", nil, "t.wav: is empty; record or copy it again", false},
		{"one byte", []byte("R"), `t.wav: is no WAV file but text, beginning with "R"`, false},
		{"a text file", []byte("Dear diary,\ntoday the belt broke.\n"), `t.wav: is no WAV file but text, beginning with "Dear diary,\n"; give a WAV file`, false},
		{"a picture", []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"), "t.wav: is no WAV file: it begins with 89 50 4E 47", false},
		{"a header cut in the middle", whole[:9], "t.wav: ends after 9 bytes, within its first header; copy it again", false},
		{"a film", append([]byte("RIFF\x10\x00\x00\x00AVI "), make([]byte, 8)...), `t.wav: at byte 8: a RIFF file of the type "AVI ", not WAVE`, false},
		{"big-endian WAV", []byte("RIFX\x00\x00\x00\x04WAVE"), "t.wav: is a WAV file in big-endian order; convert it", true},
		{"FLAC", []byte("fLaC\x00\x00\x00\x22abcdefgh"), "t.wav: is a FLAC file; convert it to a little-endian WAV file", true},
		{"AIFF", []byte("FORM\x00\x00\x00\x04AIFF"), "t.wav: is an AIFF file; convert it", true},
		{"the header alone", whole[:12], "t.wav: has no fmt chunk", false},
		{"no fmt", riff(sound4), "t.wav: has no fmt chunk", false},
		{"no data", riff(mono16), "t.wav: has no data chunk, so no sound", false},
		{"data of no bytes", riff(mono16, piece("data", nil)), "t.wav: at byte 44: the sound has no samples: nothing was recorded", false},
		{"data of no bytes, then a list", riff(mono16, piece("data", nil), piece("LIST", []byte("INFO"))), "the sound has no samples", false},
		{"data of less than a frame", riff(mono16, piece("data", []byte{1})), "the sound has no samples", false},
		{"a stream of nothing", lie(riff(mono16, piece("data", nil)), 40, notTold), "the sound has no samples", false},
		{"cut short in the sound", whole[:50], `t.wav: at byte 36: the chunk "data" states 8 bytes, of which the file has 6: it was cut short or its size is wrong`, false},
		{"cut short before the sound", whole[:44], `the chunk "data" states 8 bytes, of which the file has 0`, false},
		{"cut short in fmt", whole[:30], `t.wav: at byte 12: the chunk "fmt " states 16 bytes, of which the file has 10`, false},
		{"data that claims 4 GB", lie(whole, 40, notTold-1), `states 4294967294 bytes, of which the file has 8`, false},
		{"data that claims 2 GB, a byte more than SoX into a pipe", lie(whole, 40, 0x7FFFF001), `states 2147479553 bytes, of which the file has 8`, false},
		{"data that claims 2 GB, a frame less than SoX into a pipe", lie(whole, 40, 0x7FFFEFC0), `states 2147479488 bytes, of which the file has 8`, false},
		{"fmt that claims 4 GB", lie(whole, 16, notTold), `the chunk "fmt " states 4294967295 bytes`, false},
		{"data that claims a little too little", lie(whole, 40, 4), "t.wav: at byte 48: no chunk fits into the last 4 bytes: the size before them is wrong", false},
		{"data that claims too little", lie(riff(mono16, piece("data", bytes.Repeat(sound4[8:], 3))), 40, 12), "t.wav: at byte 56: no chunk begins here (00 80 FF 7F): the size before it is wrong", false},
		{"fmt that claims too little", lie(whole, 16, 14), "t.wav: at byte 34: no chunk begins here (10 00 64 61)", false},
		{"a short fmt chunk", riff(piece("fmt ", make([]byte, 8)), sound4), "the fmt chunk has 8 bytes where 16 are the least", false},
		{"0 channels", lie(whole, 20, 1), "t.wav: at byte 20: the header states 0 channels; export the file again as WAV", false},
		{"9 channels", riff(formatChunk(tagPCM, 9, 48000, 16), piece("data", make([]byte, 18))), "the sound has 9 channels, 8 can be read", true},
		{"a rate of 0", lie(whole, 24, 0), "the header states a sample rate of 0 Hz", false},
		{"a rate of 4 kHz", riff(formatChunk(tagPCM, 1, 4000, 16), sound4), "the sample rate is 4000 Hz, 8000 to 192000 can be read", true},
		{"a rate of 4 GHz", lie(whole, 24, notTold), "the sample rate is 4294967295 Hz", true},
		{"a frame of 3 bytes for 16 bits", lie(whole, 32, 16<<16|3), "the header states 3 bytes a frame, which with 1 channels of 16 bits must be 2", false},
		{"a frame of 0 bytes", lie(whole, 32, 16<<16), "the header states 0 bytes a frame", false},
		{"0 bits", lie(whole, 32, 2), "the header states 0 bits a sample", false},
		{"PCM of 64 bits", riff(formatChunk(tagPCM, 1, 48000, 64), sound4), "the sound is 64-bit PCM; convert it to PCM of 8, 16, 24 or 32 bits", true},
		{"PCM of 65535 bits", lie(whole, 32, 0xFFFF<<16|2), "the sound is 65535-bit PCM in 65536 bits", true},
		{"float of 16 bits", riff(formatChunk(tagFloat, 1, 48000, 16), sound4), "the sound is 16-bit float", true},
		{"ADPCM", riff(formatChunk(2, 1, 48000, 4), sound4), "the sound is in ADPCM (format tag 0002); convert it to PCM or float", true},
		{"A-law", riff(formatChunk(6, 1, 8000, 8), sound4), "the sound is in A-law (format tag 0006)", true},
		{"µ-law", riff(formatChunk(7, 1, 8000, 8), sound4), "the sound is in µ-law (format tag 0007)", true},
		{"a code nobody knows", riff(formatChunk(0x1234, 1, 8000, 8), sound4), "the sound is in a code unknown here (format tag 1234)", true},
		{"A-law in an extensible file", riff(piece("fmt ", aLawExtensible), sound4), "the sound is in A-law (format tag 0006)", true},
		{"extensible with another GUID", riff(piece("fmt ", foreignGUID), sound4), "the sound is in a code with the GUID 01 00 00 00 00 00 7F", true},
		{"extensible, but too short", riff(piece("fmt ", extensible[:24]), sound4), "the fmt chunk is extensible but has 24 bytes where 40 are the least", false},
		{"more valid bits than bits", riff(piece("fmt ", tooManyValid), sound4), "the header states 32 bits a sample, 33 of them in use", false},
		{"a float that is not a number", riff(formatChunk(tagFloat, 2, 48000, 32), float32Chunk(0, 0, 0, nan)),
			"t.wav: at byte 52: sample 2 of channel 2 (at 0.000 s) is NaN, which is no sound", false},
		{"a float beyond all numbers", riff(formatChunk(tagFloat, 1, 48000, 32), float32Chunk(float32(math.Inf(-1)))), "sample 1 of channel 1 (at 0.000 s) is -Inf", false},
		{"RF64 without ds64", lie(append([]byte("RF64"), riff(mono16, sound4, make([]byte, 40))[4:]...), 4, notTold), "an RF64 file needs a ds64 chunk", false},
		{"RF64 cut in ds64", rf64("RF64", 8, nil)[:30], "t.wav: at byte 12: ends within its ds64 chunk", false},
		{"RF64 with a short ds64", lie(rf64("RF64", 8, nil, mono16, sound4), 16, 20), "needs a ds64 chunk of at least 28 bytes", false},
		{"RF64 that claims 16 million TB", rf64("RF64", math.MaxUint64, nil, mono16, wideSize(sound4)), "of which the file has 8: it was cut short", false},
		{"RF64 cut short", rf64("RF64", 800, nil, mono16, wideSize(sound4)), `the chunk "data" states 800 bytes, of which the file has 8`, false},
		{"a hundred thousand chunks", riff(mono16, bytes.Repeat(piece("none", nil), 100_000), sound4), "more than 10000 chunks", false},
	}
}

func TestBrokenTakesAreRefusedInWords(t *testing.T) {
	for _, c := range brokenTakes(t) {
		t.Run(c.name, func(t *testing.T) {
			take, err := readBytes(c.file)
			require.Nil(t, take)
			require.ErrorContains(t, err, c.want)
			var wrong *FormatError
			var unsupported *UnsupportedError
			require.Equal(t, c.unsupported, errors.As(err, &unsupported))
			require.Equal(t, !c.unsupported, errors.As(err, &wrong))
		})
	}
}

func TestASizeBelowNothingIsThatOfAnEmptyFile(t *testing.T) {
	_, err := Open("t.wav", bytes.NewReader(riff(mono16, sound4)), -1)
	require.EqualError(t, err, "t.wav: is empty; record or copy it again")
}

// Wherever a file is cut, it is refused or, after its sound, read with a warning.
func TestCutAnywhere(t *testing.T) {
	for name, file := range map[string][]byte{
		"RIFF": riff(piece("LIST", []byte("abc")), mono16, sound4),
		"RF64": rf64("RF64", 8, nil, mono16, wideSize(sound4)),
		"list": riff(mono16, sound4, piece("LIST", []byte("abcdef"))),
	} {
		for n := range len(file) {
			take, err := readBytes(file[:n])
			if err != nil {
				require.Nil(t, take)
				continue
			}
			require.Equal(t, "list", name, "%s cut after %d bytes was taken for whole", name, n)
			require.Equal(t, [][]float64{want4}, take.Channels)
			require.True(t, n == 52 || len(take.Warnings) > 0, "cut after %d bytes", n)
		}
	}
}

// A header of a hundred bytes may claim what it likes: little is allocated.
func TestALyingSizeAllocatesNothing(t *testing.T) {
	for _, file := range [][]byte{
		lie(riff(mono16, sound4), 40, notTold-1), rf64("RF64", 1<<40, nil, mono16, wideSize(sound4)),
		lie(rf64("RF64", 8, nil, mono16, wideSize(sound4)), 44, notTold), // rows of the table in ds64
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, _ = readBytes(file)
		runtime.ReadMemStats(&after)
		require.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(1<<20))
	}
}

// Whatever comes in: no panic, and what is read is sound: channels of one length,
// no more samples than the file has bytes for, every one of them finite.
func FuzzRead(f *testing.F) {
	for _, c := range brokenTakes(f) {
		if len(c.file) < 1000 {
			f.Add(c.file)
		}
	}
	f.Add(unhex(f, mono24))
	f.Add(riff(piece("fmt ", unhex(f, extensibleBody)), sound4))
	f.Add(rf64("BW64", 8, append([]byte("LIST"), make([]byte, 8)...), bext(7), mono16, wideSize(sound4)))
	f.Fuzz(func(t *testing.T, file []byte) {
		take, err := readBytes(file)
		if err != nil {
			require.Nil(t, take)
			return
		}
		require.NotEmpty(t, take.Channels)
		require.LessOrEqual(t, take.Frames()*len(take.Channels)*take.Encoding.Bits/8, len(file))
		for _, channel := range take.Channels {
			require.Len(t, channel, take.Frames())
			require.Negative(t, firstNotFinite(channel))
		}
	})
}
