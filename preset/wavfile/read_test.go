package wavfile

import (
	"bytes"
	"encoding/binary"
	"encoding/hex"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// unhex reads bytes written as in a standard, in pairs.
func unhex(t testing.TB, s string) []byte {
	b, err := hex.DecodeString(strings.Join(strings.Fields(s), ""))
	require.NoError(t, err)
	return b
}

func readBytes(b []byte) (*Take, error) {
	return Read("t.wav", bytes.NewReader(b), int64(len(b)))
}

// piece is a chunk with its pad byte.
func piece(id string, content []byte) []byte {
	b := binary.LittleEndian.AppendUint32([]byte(id), uint32(len(content)))
	b = append(b, content...)
	if len(content)%2 == 1 {
		b = append(b, 0)
	}
	return b
}

// riff puts pieces into a file whose header states the right size.
func riff(pieces ...[]byte) []byte {
	all := append([]byte("WAVE"), bytes.Join(pieces, nil)...)
	return append(binary.LittleEndian.AppendUint32([]byte("RIFF"), uint32(len(all))), all...)
}

// formatChunk is a plain fmt chunk.
func formatChunk(tag, channels, rate, bits int) []byte {
	var b []byte
	frame := channels * ((bits + 7) / 8)
	b = binary.LittleEndian.AppendUint16(b, uint16(tag))
	b = binary.LittleEndian.AppendUint16(b, uint16(channels))
	b = binary.LittleEndian.AppendUint32(b, uint32(rate))
	b = binary.LittleEndian.AppendUint32(b, uint32(rate*frame))
	b = binary.LittleEndian.AppendUint16(b, uint16(frame))
	b = binary.LittleEndian.AppendUint16(b, uint16(bits))
	return piece("fmt ", b)
}

var (
	mono16 = formatChunk(tagPCM, 1, 48000, 16)
	sound4 = piece("data", []byte{0, 0, 0, 0x40, 0, 0x80, 0xFF, 0x7F}) // 0, +½, −1 and the highest of 16 bits
	want4  = []float64{0, 0.5, -1, 32767.0 / 32768}
)

// The file is worked by hand: header 12, fmt 8 + 16, data 8 + 9 and a pad byte
// that is not counted (54 bytes, so 2Eh after the RIFF size); its samples are
// −8388608, +8388607 and 0, and full scale is 8388608.
const mono24 = `52 49 46 46 2E 00 00 00 57 41 56 45 66 6D 74 20 10 00 00 00 01 00 01 00 80 BB 00 00 80 32 02 00
	03 00 18 00 64 61 74 61 09 00 00 00 00 00 80 FF FF 7F 00 00 00 00`

func TestReadA24BitFileWithAPadByte(t *testing.T) {
	take, err := readBytes(unhex(t, mono24))
	require.NoError(t, err)
	require.Equal(t, &Take{Rate: 48000, Encoding: PCM24, Channels: [][]float64{{-1, 8388607.0 / 8388608, 0}}}, take)
	require.Equal(t, 3, take.Frames())
}

// Extensible fmt body (layout and GUID as in MS-RDPEAI §2.2.2.3.1): tag FFFE, 2
// channels, BB80h = 48000 Hz, 5DC00h = 384000 bytes a second, 8 a frame, 32 bits,
// 22 further bytes: 24 valid bits, channels front left and right, PCM.
const extensibleBody = `FE FF 02 00 80 BB 00 00 00 DC 05 00 08 00 20 00 16 00 18 00 03 00 00 00
	01 00 00 00 00 00 10 00 80 00 00 AA 00 38 9B 71`

func TestReadAnExtensibleFileWithValidBits(t *testing.T) {
	// Left-justified in 32 bits: 40000000h is one half, C0000000h minus one half.
	sound := piece("data", []byte{0, 0, 0, 0x40, 0, 0, 0, 0xC0})
	take, err := readBytes(riff(piece("fmt ", unhex(t, extensibleBody)), sound))
	require.NoError(t, err)
	require.Equal(t, [][]float64{{0.5}, {-0.5}}, take.Channels)
	require.Equal(t, Encoding{Bits: 32, ValidBits: 24}, take.Encoding)
	require.Equal(t, "24-bit PCM in 32 bits", take.Encoding.String())
	require.Empty(t, take.Warnings)
}

func TestReadEveryEncoding(t *testing.T) {
	half32 := binary.LittleEndian.AppendUint32(nil, math.Float32bits(0.5))
	loud64 := binary.LittleEndian.AppendUint64(nil, math.Float64bits(-1.25))
	for _, c := range []struct {
		name      string
		tag, bits int
		sound     []byte
		want      []float64
	}{
		{"8 bits without sign: 80h is silence", tagPCM, 8, []byte{0x80, 0, 0xFF, 0xC0}, []float64{0, -1, 127.0 / 128, 0.5}},
		{"16 bits", tagPCM, 16, []byte{0, 0xC0, 1, 0}, []float64{-0.5, 1.0 / 32768}},
		{"24 bits", tagPCM, 24, []byte{0, 0, 0x40, 0xFF, 0xFF, 0xFF}, []float64{0.5, -1.0 / 8388608}},
		{"20 bits in the room of 24", tagPCM, 20, []byte{0, 0, 0xC0}, []float64{-0.5}},
		{"32 bits", tagPCM, 32, []byte{0, 0, 0, 0x80, 0, 0, 0, 0x20}, []float64{-1, 0.25}},
		{"float of 32 bits", tagFloat, 32, half32, []float64{0.5}},
		{"float of 64 bits, beyond full scale", tagFloat, 64, loud64, []float64{-1.25}},
	} {
		t.Run(c.name, func(t *testing.T) {
			take, err := readBytes(riff(formatChunk(c.tag, 1, 44100, c.bits), piece("data", c.sound)))
			require.NoError(t, err)
			require.Equal(t, [][]float64{c.want}, take.Channels)
			require.Equal(t, preset.Hertz(44100), take.Rate)
			require.Equal(t, c.bits, take.Encoding.ValidBits)
			require.Empty(t, take.Warnings)
		})
	}
}

func TestReadEightChannelsAtEitherEndOfTheRates(t *testing.T) {
	for _, rate := range []int{MinRate, MaxRate} {
		take, err := readBytes(riff(formatChunk(tagPCM, 8, rate, 8), piece("data", []byte{128, 136, 144, 152, 160, 168, 176, 184, 0, 0, 0, 0, 0, 0, 0, 0})))
		require.NoError(t, err)
		require.Len(t, take.Channels, 8)
		for c, channel := range take.Channels {
			require.Equal(t, []float64{float64(c) / 16, -1}, channel)
		}
	}
}

func TestReadMoreThanOneBlock(t *testing.T) {
	const frames = 100_003
	var sound []byte
	for i := range frames {
		sound = binary.LittleEndian.AppendUint16(sound, uint16(int16(i%32768)))
		sound = binary.LittleEndian.AppendUint16(sound, uint16(int16(-(i % 32768))))
	}
	take, err := readBytes(riff(formatChunk(tagPCM, 2, 48000, 16), piece("data", sound)))
	require.NoError(t, err)
	require.Equal(t, frames, take.Frames())
	for i := range frames {
		want := float64(i%32768) / 32768
		if take.Channels[0][i] != want || take.Channels[1][i] != -want {
			require.Failf(t, "wrong sample", "frame %d", i)
		}
	}
}

// rf64 is a file with the sizes in ds64: 64 bits each for file, data and samples,
// and a table of further chunks (ITU-R BS.2088-1).
func rf64(id string, dataSize uint64, table []byte, pieces ...[]byte) []byte {
	ds := binary.LittleEndian.AppendUint64(nil, 0)
	ds = binary.LittleEndian.AppendUint64(ds, dataSize)
	ds = binary.LittleEndian.AppendUint64(ds, 4)
	ds = binary.LittleEndian.AppendUint32(ds, uint32(len(table)/12))
	b := append([]byte(id), 0xFF, 0xFF, 0xFF, 0xFF, 'W', 'A', 'V', 'E')
	b = append(b, piece("ds64", append(ds, table...))...)
	return append(b, bytes.Join(pieces, nil)...)
}

// wideSize replaces the size of a chunk by FFFFFFFF: it stands elsewhere.
func wideSize(piece []byte) []byte {
	b := bytes.Clone(piece)
	copy(b[4:], "\xff\xff\xff\xff")
	return b
}

func bext(start uint64) []byte {
	b := make([]byte, 602)
	binary.LittleEndian.PutUint64(b[338:], start)
	return piece("bext", b)
}

// readableTakes are files that hold want4, with the warning that each must give.
func readableTakes() []struct {
	name    string
	file    []byte
	warning string // "" for none
} {
	list := piece("LIST", []byte("INFOodd"))
	table := append([]byte("LIST"), 7, 0, 0, 0, 0, 0, 0, 0)
	return []struct {
		name    string
		file    []byte
		warning string
	}{
		{"the plain order", riff(mono16, sound4), ""},
		{"lists of odd size before, between and after", riff(list, mono16, list, sound4, list), ""},
		{"a last chunk without its pad byte", riff(mono16, sound4, list)[:len(riff(mono16, sound4, list))-1], ""},
		{"room kept for ds64", riff(piece("JUNK", make([]byte, 28)), mono16, sound4), ""},
		{"RF64", rf64("RF64", 8, nil, mono16, wideSize(sound4)), ""},
		{"BW64 with lists", rf64("BW64", 8, nil, list, mono16, wideSize(sound4), list), ""},
		{"RF64 with a table for another chunk", rf64("RF64", 8, table, mono16, wideSize(list), wideSize(sound4)), ""},
		{"RF64 whose data fits 32 bits", rf64("RF64", 0, nil, mono16, sound4), ""},
		{"sound before its format", riff(sound4, mono16), "its sound stands before the chunk"},
		{"two sounds", riff(mono16, sound4, piece("data", []byte{1, 1})), `a second "data" chunk at byte 52 was not read`},
		{"a chunk after the sound, cut short", riff(mono16, sound4, list)[:62], `the chunk "LIST" at byte 52`},
		{"a header that states too little", lie(riff(mono16, sound4), 4, 10), "the header states 18 bytes, the file has 52"},
		{"a header that states too much", lie(riff(mono16, sound4), 4, 9000), "the header states 9008 bytes, the file has 52"},
		{"a stopped recorder: size 0", lie(lie(riff(mono16, sound4), 40, 0), 4, 0), "the size of its sound was never written"},
		{"size 0 of the sound alone", lie(riff(mono16, sound4), 40, 0), "the rest of the file, 8 bytes, was taken"},
		{"a stream: size FFFFFFFF", lie(lie(riff(mono16, sound4), 40, notTold), 4, notTold), "the rest of the file, 8 bytes, was taken"},
		{"SoX into a pipe: size 7FFFF000", lie(lie(riff(mono16, sound4), 40, 0x7FFFF000), 4, 0x7FFFF024), "the rest of the file, 8 bytes, was taken"},
		{"SoX into a pipe, down to whole frames of 64 bytes", lie(riff(mono16, sound4), 40, 0x7FFFEFC1), "the rest of the file, 8 bytes, was taken"},
		{"an RF64 never finished", rf64("RF64", 0, nil, mono16, wideSize(sound4)), "the size of its sound was never written"},
		{"a stopped recorder within a frame", append(lie(riff(mono16, sound4), 40, 0), 1), "its last 1 bytes were dropped"},
		{"sound that ends within a frame", riff(mono16, piece("data", append(bytes.Clone(sound4[8:]), 7))), "its last 1 bytes were dropped"},
		{"zeros at the end", append(riff(mono16, sound4), make([]byte, 5000)...), "the last 5000 bytes of the file are zeros"},
		{"a few bytes at the end", append(riff(mono16, sound4), "abc"...), "the last 3 bytes of the file are no chunk"},
		{"a broadcast chunk without room for the time", riff(piece("bext", make([]byte, 345)), mono16, sound4), "the bext chunk at byte 12 has 345 bytes where the time of the take needs 346"},
		{"a broadcast chunk cut short after the sound", riff(mono16, sound4, bext(7))[:100], `the chunk "bext" at byte 52 states 602 bytes`},
		{"bytes a second that are wrong", lie(riff(mono16, sound4), 28, 5), "the header states 5 bytes a second, which at 48000 Hz must be 96000"},
	}
}

func TestReadFilesInWhateverOrderTheirChunksCome(t *testing.T) {
	for _, c := range readableTakes() {
		t.Run(c.name, func(t *testing.T) {
			take, err := readBytes(c.file)
			require.NoError(t, err)
			require.Equal(t, [][]float64{want4}, take.Channels)
			if c.warning == "" {
				require.Empty(t, take.Warnings)
				return
			}
			require.Contains(t, strings.Join(take.Warnings, "\n"), c.warning)
		})
	}
}

// lie writes another 32-bit number at a byte of the file.
func lie(file []byte, at int, v uint32) []byte {
	b := bytes.Clone(file)
	binary.LittleEndian.PutUint32(b[at:], v)
	return b
}

// TimeReference counts samples since midnight: 10 h at 48 kHz are 36000·48000 =
// 1 728 000 000; one sample before midnight at 192 kHz needs more than 32 bits.
func TestReadTheTimeOfABroadcastTake(t *testing.T) {
	for _, start := range []uint64{1_728_000_000, 24*3600*192_000 - 1} {
		take, err := readBytes(riff(bext(start), mono16, sound4))
		require.NoError(t, err)
		require.NotNil(t, take.StartSample)
		require.Equal(t, start, *take.StartSample)
	}
	require.Equal(t, []byte{0x00, 0x30, 0xFF, 0x66}, bext(1_728_000_000)[8+338:8+342], "66FF3000h, lowest byte first")

	take, err := readBytes(riff(mono16, sound4, bext(5)))
	require.NoError(t, err)
	require.EqualValues(t, 5, *take.StartSample, "after the sound too")
	take, err = readBytes(riff(piece("bext", make([]byte, 345)), mono16, sound4))
	require.NoError(t, err)
	require.Nil(t, take.StartSample, "a chunk too short for it")
	require.Len(t, take.Warnings, 1)
}

func TestWhenTheDiskFailsTheErrorIsThatOfTheDisk(t *testing.T) {
	whole := riff(mono16, sound4)
	_, err := Read("t.wav", failing{bytes.NewReader(whole), 46}, int64(len(whole)))
	require.ErrorIs(t, err, errDisk)
	require.ErrorContains(t, err, "t.wav: reading at byte 44")

	_, err = Read("t.wav", bytes.NewReader(whole[:50]), int64(len(whole)))
	require.EqualError(t, err, "t.wav: at byte 44: ends here, having become shorter while it was read; wait until it is copied whole")
}
