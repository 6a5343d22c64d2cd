package midi

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func unhex(t testing.TB, s string) []byte {
	t.Helper()
	b, err := ParseHex(s)
	require.NoError(t, err)
	return b
}

// The first is an 81-byte file called ECHO.MID to device 1 from device 2: 81 =
// 51h, four bytes of 7 bits, low ones first. Layout: M1 pages 41 and 42.
func TestFileDumpHeadersAndRequests(t *testing.T) {
	for _, c := range []struct {
		name    string
		dump    FileDump
		request bool
		want    string
	}{
		{"header", FileDump{Device: 1, Source: 2, Type: "MIDI", Name: "ECHO.MID", Length: 81}, false,
			"F0 7E 01 07 01 02 4D 49 44 49 51 00 00 00 45 43 48 4F 2E 4D 49 44 F7"},
		// 300 = 2·128 + 44 → 2C 02
		{"header of an unnamed file of 300 bytes", FileDump{Type: "BIN ", Length: 300}, false,
			"F0 7E 00 07 01 00 42 49 4E 20 2C 02 00 00 F7"},
		{"header with a length not known", FileDump{Device: 3, Source: 4, Type: "BIN ", Name: "A"}, false,
			"F0 7E 03 07 01 04 42 49 4E 20 00 00 00 00 41 F7"},
		{"request", FileDump{Device: 5, Source: 126, Type: "BIN ", Name: "MEM07"}, true,
			"F0 7E 05 07 03 7E 42 49 4E 20 4D 45 4D 30 37 F7"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.request {
				got, err := c.dump.Request()
				require.NoError(t, err)
				require.Equal(t, c.want, Hex(got))
				return
			}
			got, err := c.dump.Header()
			require.NoError(t, err)
			require.Equal(t, c.want, Hex(got))
			back, err := ParseFileDumpHeader(got)
			require.NoError(t, err)
			require.Equal(t, c.dump, back)
		})
	}
}

// Packing and checksum worked from M1 page 43: the 14 bytes have no top bit, so
// both head bytes are 0; 16 packed bytes less one are 0Fh; 7E^01^07^02 = 7A, ^00
// ^0F = 75, and the data: 4D^54^68^64 = 15, 75^15 = 60, ^06 = 66, ^01 = 67, ^60
// = 07.
func TestFileDumpPacketAsTheStandardSays(t *testing.T) {
	data := unhex(t, "4D 54 68 64 00 00 00 06 00 00 00 01 00 60")
	got, err := AppendFilePacket(nil, 1, 0, data)
	require.NoError(t, err)
	require.Equal(t, "F0 7E 01 07 02 00 0F 00 4D 54 68 64 00 00 00 00 06 00 00 00 01 00 60 07 F7", Hex(got))
	number, back, err := ParseFilePacket(got)
	require.NoError(t, err)
	require.Zero(t, number)
	require.Equal(t, data, back)
}

// 112 bytes are 16 groups of 7: 128 packed bytes, and 137 with F0, 7E, device,
// 07, 02, number, count, checksum, F7 (M1 page 43: at most 137).
func TestTheLongestPacket(t *testing.T) {
	got, err := AppendFilePacket(nil, 0, 300, make([]byte, MostInPacket))
	require.NoError(t, err)
	require.Len(t, got, 137)
	require.EqualValues(t, 0x7F, got[6])
	number, _, err := ParseFilePacket(got)
	require.NoError(t, err)
	require.Equal(t, 300%128, number)
	_, err = AppendFilePacket(nil, 0, 0, make([]byte, MostInPacket+1))
	require.ErrorContains(t, err, "1 to 112")
}

// M1 page 43 gives the example: 64 stored bytes are 74 on the wire (9 groups of 8
// and 1 byte with its head byte), and the count byte says one less, 49h. The
// number of a packet runs on after 127 with 0.
func TestCountsAndNumbersOfPackets(t *testing.T) {
	for number, want := range map[int]byte{0: 0, 1: 1, 127: 0x7F, 128: 0, 129: 1, 255: 0x7F, 256: 0} {
		got, err := AppendFilePacket(nil, 0, number, make([]byte, 64))
		require.NoError(t, err)
		require.EqualValues(t, 0x49, got[6])
		require.Len(t, got, 74+9)
		require.Equal(t, want, got[5], "packet %d", number)
	}
}

func TestPacketsThatDidNotArriveWhole(t *testing.T) {
	whole, err := AppendFilePacket(nil, 1, 5, []byte{0x80, 1, 0x82})
	require.NoError(t, err)
	for i := 5; i < len(whole)-1; i++ { // from the number to the checksum
		broken := append([]byte(nil), whole...)
		broken[i] ^= 0x01
		_, _, err := ParseFilePacket(broken)
		require.ErrorIs(t, err, ErrChecksum, "byte %d", i)
	}
	for n := range whole {
		_, _, err := ParseFilePacket(whole[:n])
		require.Error(t, err, "cut to %d bytes", n)
	}
}

func TestWhatIsNoFileDump(t *testing.T) {
	_, err := ParseFileDumpHeader(unhex(t, "F0 7E 01 07 03 02 4D 49 44 49 F7"))
	require.ErrorIs(t, err, ErrNoFileDump)
	_, _, err = ParseFilePacket(unhex(t, "F0 7E 01 07 01 02 4D 49 44 49 F7"))
	require.ErrorIs(t, err, ErrNoFileDump)
	for _, c := range []struct {
		name string
		dump FileDump
		want string
	}{
		{"a device over 7 bits", FileDump{Device: 128, Type: "BIN "}, "device 128"},
		{"a type of three characters", FileDump{Type: "BIN"}, "four characters"},
		{"a name that is not ASCII", FileDump{Type: "BIN ", Name: "Ä"}, "printable ASCII"},
		{"a length over 28 bits", FileDump{Type: "BIN ", Length: 1 << 28}, "268435456"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := c.dump.Header()
			require.ErrorContains(t, err, c.want)
		})
	}
}

// M1 pages 36 and 44.
func TestHandshakes(t *testing.T) {
	for _, c := range []struct {
		h    Handshake
		want string
	}{
		{ACK, "F0 7E 03 7F 05 F7"}, {NAK, "F0 7E 03 7E 05 F7"}, {CANCEL, "F0 7E 03 7D 05 F7"},
		{WAIT, "F0 7E 03 7C 05 F7"}, {EOF, "F0 7E 03 7B 05 F7"},
	} {
		t.Run(c.h.String(), func(t *testing.T) {
			got, err := c.h.Message(3, 5)
			require.NoError(t, err)
			require.Equal(t, c.want, Hex(got))
			require.True(t, c.h.Answer(5).Fits(got))
			require.True(t, c.h.Answer(-1).Fits(got))
			require.False(t, c.h.Answer(6).Fits(got))
			h, packet, ok := ParseHandshake(got)
			require.True(t, ok)
			require.Equal(t, c.h, h)
			require.Equal(t, 5, packet)
		})
	}
	_, err := ACK.Message(0, 128)
	require.ErrorContains(t, err, "packet 128")
	_, err = Handshake(0x7A).Message(0, 0)
	require.Error(t, err)
	for name, other := range map[string]string{
		"an identity request":     "F0 7E 03 06 01 F7",
		"a real-time universal":   "F0 7F 03 7F 05 F7",
		"without its beginning":   "00 7E 03 7F 05 F7",
		"without its end":         "F0 7E 03 7F 05 00",
		"one byte more":           "F0 7E 03 7F 05 00 F7",
		"the number that is free": "F0 7E 03 7A 05 F7",
	} {
		_, _, ok := ParseHandshake(unhex(t, other))
		require.False(t, ok, name)
	}
}

func FuzzFilePacket(f *testing.F) {
	whole, err := AppendFilePacket(nil, 1, 5, []byte{0x80, 1, 0x82})
	require.NoError(f, err)
	f.Add(whole)
	f.Add([]byte{0xF0, 0x7E, 0, 7, 2, 0, 0, 0, 0xF7})
	f.Fuzz(func(t *testing.T, message []byte) {
		_, _ = ParseFileDumpHeader(message)
		number, data, err := ParseFilePacket(message)
		if err != nil || len(data) == 0 || len(data) > MostInPacket || message[2] > 0x7F || message[5] > 0x7F {
			return
		}
		again, err := AppendFilePacket(nil, int(message[2]), number, data)
		require.NoError(t, err)
		require.Equal(t, len(message), len(again))
	})
}
