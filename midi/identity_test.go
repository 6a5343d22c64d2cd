package midi

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// The form is that of the MIDI 1.0 Detailed Specification 4.2.1 page 40: family
// and member are 14 bits, low half first.
func TestIdentity(t *testing.T) {
	for _, tc := range []struct {
		name, message string
		want          Identity
	}{
		{"a number of one byte", "F0 7E 01 06 02 7D 01 00 02 00 01 00 00 00 F7",
			Identity{Unit: 1, Manufacturer: Manufacturer{0x7D}, Family: 1, Member: 2, Revision: [4]byte{1, 0, 0, 0}}},
		// 01 01 is 1 + 128, 7F 7F is 127 + 127·128
		{"a number of three bytes", "F0 7E 01 06 02 00 7F 7F 01 01 7F 7F 00 00 01 00 F7",
			Identity{Unit: 1, Manufacturer: Manufacturer{0, 0x7F, 0x7F}, Family: 129, Member: 16383, Revision: [4]byte{0, 0, 1, 0}}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			got, err := ParseIdentity(bytesOf(t, tc.message))
			require.NoError(t, err)
			require.Equal(t, tc.want, got)
			again, err := got.Reply()
			require.NoError(t, err)
			require.Equal(t, tc.message, Hex(again))
		})
	}
}

func TestIdentityInWords(t *testing.T) {
	id := Identity{Manufacturer: Manufacturer{0, 0x20, 0x7F}, Family: 5, Member: 1, Revision: [4]byte{1, 2, 3, 4}}
	require.Equal(t, "manufacturer 00 20 7F, family 0005h, member 0001h, revision 01 02 03 04", id.String())
}

func TestNoIdentity(t *testing.T) {
	for _, tc := range []struct{ name, in, want string }{
		{"nothing", "", "no identity reply"},
		{"a note", "90 3C 40", "no identity reply"},
		{"the request", "F0 7E 7F 06 01 F7", "no identity reply"},
		{"an acknowledge of another device", "F0 7D 05 00 7F 10 71 F7", "no identity reply"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			_, err := ParseIdentity(bytesOf(t, tc.in))
			require.ErrorIs(t, err, ErrNoIdentity)
			require.ErrorContains(t, err, tc.want)
		})
	}
}

func TestBrokenIdentity(t *testing.T) {
	for _, tc := range []struct{ name, in, want string }{
		{"a byte short", "F0 7E 01 06 02 7D 01 00 02 00 01 00 00 F7", "14 bytes, F0 7E 01 06 02 7D 01 00 02 00 01 00 00 F7: wanted 15 bytes that end with F7"},
		{"a byte long", "F0 7E 01 06 02 7D 01 00 02 00 01 00 00 00 00 F7", "wanted 15 bytes"},
		{"a number of three in the length of one", "F0 7E 01 06 02 00 20 00 02 00 01 00 00 00 F7", "wanted 17 bytes"},
		{"without its end", "F0 7E 01 06 02 7D 01 00 02 00 01 00 00 00 00", "end with F7"},
		{"only a head", "F0 7E 01 06 02 7D", "wanted 15 bytes"},
		{"a byte of 8 bits", "F0 7E 01 06 02 7D 01 80 02 00 01 00 00 00 F7", "byte 7 is 80"},
		{"a number that is nobody's", "F0 7E 01 06 02 00 00 00 01 01 7F 7F 00 00 01 00 F7", "manufacturer 00 00 00"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			_, err := ParseIdentity(bytesOf(t, tc.in))
			require.ErrorContains(t, err, tc.want)
			require.NotErrorIs(t, err, ErrNoIdentity)
		})
	}
}

func TestReplyOutOfRange(t *testing.T) {
	good := Identity{Manufacturer: Manufacturer{0x7D}}
	for _, tc := range []struct {
		change func(*Identity)
		want   string
	}{
		{func(id *Identity) { id.Unit = 128 }, "unit 128: it runs from 0 to 127"},
		{func(id *Identity) { id.Family = 16384 }, "family 16384"},
		{func(id *Identity) { id.Member = -1 }, "member -1"},
		{func(id *Identity) { id.Manufacturer = Manufacturer{} }, "manufacturer 00 00 00"},
		{func(id *Identity) { id.Manufacturer = Manufacturer{0x7D, 1, 2} }, "a number of three bytes begins with 00"},
		{func(id *Identity) { id.Manufacturer = Manufacturer{0, 0x80, 2} }, "each byte runs from 00 to 7F"},
		{func(id *Identity) { id.Revision[2] = 0x80 }, "data byte 128"},
	} {
		id := good
		tc.change(&id)
		_, err := id.Reply()
		require.ErrorContains(t, err, tc.want)
	}
}

func FuzzParseIdentity(f *testing.F) {
	f.Add([]byte("\xF0\x7E\x01\x06\x02\x7D\x01\x00\x02\x00\x01\x00\x00\x00\xF7"))
	f.Add([]byte("\xF0\x7E\x01\x06\x02\x00\x7F\x7F\x01\x01\x7F\x7F\x00\x00\x01\x00\xF7"))
	f.Fuzz(func(t *testing.T, b []byte) {
		id, err := ParseIdentity(b)
		if err != nil {
			return
		}
		again, err := id.Reply()
		require.NoError(t, err)
		require.Equal(t, b, again)
	})
}
