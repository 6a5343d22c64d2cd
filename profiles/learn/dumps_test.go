package learn

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

// memory is 20 bytes with a time at 2 and 3, low byte first, and some contents.
func memory(time int) []byte {
	m := []byte{9, 200, 0, 0, 17, 255, 128, 3, 0, 0, 44, 130, 7, 7, 'A', 'b', 'c', ' '}
	m[2], m[3] = byte(time), byte(time>>8)
	return m
}

// withCRC puts the check behind, high byte first: CRC-16 with polynomial 1021h and
// start FFFFh, whose value for "123456789" is 29B1h (package midi's test).
func withCRC(m []byte) []byte {
	crc := midi.CCITTFalse().Sum(m)
	return append(slices.Clone(m), byte(crc>>8), byte(crc))
}

func dump(head []byte, packed []byte, sum func([]byte) byte) []byte {
	m := append([]byte{0xF0}, head...)
	m = append(m, packed...)
	if sum != nil {
		m = append(m, sum(m[4:]))
	}
	return append(m, 0xF7)
}

var head = []byte{0x7D, 0x05, 0x00, 0x21, 0x03}

func TestTwoDumpsTellPackingChecksAndTheBitsThatMoved(t *testing.T) {
	was := dump(head, midi.AppendPacked(nil, withCRC(memory(1210)), midi.FirstHigh), midi.TwosComplement)
	is := dump(head, midi.AppendPacked(nil, withCRC(memory(1211)), midi.FirstHigh), midi.TwosComplement)
	c, err := Dumps(was, is)
	require.NoError(t, err)
	require.Equal(t, &Sum{Kind: "twos-complement", From: 4, Since: 3, To: len(was) - 3, At: len(was) - 2}, c.Sum)
	best := c.Layouts[0]
	require.Equal(t, "file-dump", best.Packing)
	require.Equal(t, 6, best.From)
	require.Equal(t, 20, best.Bytes)
	require.Equal(t, "crc-16 polynomial 1021, start FFFF, high byte first", best.Check)
	require.Equal(t, 18, best.CheckAt)
	// 1210 is 04BAh, 1211 is 04BBh: the low byte's lowest bit.
	var moved []Bits
	for _, b := range best.Changed {
		if !b.InCheck {
			moved = append(moved, b)
		}
	}
	require.Equal(t, []Bits{{At: 2, Was: 0xBA, Is: 0xBB, Mask: 1}}, moved)
	require.Contains(t, best.String(), "byte 2 from 186 to 187 (bits 0)")
}

func TestEveryPackingIsRecognisedByItsCheck(t *testing.T) {
	nibbles := func(m []byte, first, second int) (out []byte) {
		for _, b := range m {
			out = append(out, b>>first&0x0F, b>>second&0x0F)
		}
		return out
	}
	for _, test := range []struct {
		name string
		pack func([]byte) []byte
	}{
		{"file-dump", func(m []byte) []byte { return midi.AppendPacked(nil, m, midi.FirstHigh) }},
		{"mirrored", func(m []byte) []byte { return midi.AppendPacked(nil, m, midi.FirstLow) }},
		{"nibbles", func(m []byte) []byte { return nibbles(m, 4, 0) }},
		{"nibbles low first", func(m []byte) []byte { return nibbles(m, 0, 4) }},
	} {
		t.Run(test.name, func(t *testing.T) {
			c, err := Dumps(dump(head, test.pack(withCRC(memory(1))), nil), dump(head, test.pack(withCRC(memory(600))), nil))
			require.NoError(t, err)
			require.Nil(t, c.Sum)
			require.Equal(t, test.name, c.Layouts[0].Packing)
			require.Equal(t, 6, c.Layouts[0].From)
		})
	}
}

func TestAMemoryWithoutACheckShowsWhatMoved(t *testing.T) {
	was, is := dump(head, []byte{1, 2, 3, 4, 5, 6}, nil), dump(head, []byte{1, 2, 3, 0x44, 5, 6}, nil)
	c, err := Dumps(was, is)
	require.NoError(t, err)
	require.Equal(t, []Bits{{At: 9, Was: 4, Is: 0x44, Mask: 0x40}}, c.Changed)
	require.Contains(t, c.Layouts[0].String(), "no check at its end was recognised")
}

func TestDumpsThatCannotBeComparedSayWhy(t *testing.T) {
	whole := dump(head, []byte{1, 2, 3, 4}, nil)
	for _, test := range []struct {
		name    string
		was, is []byte
		want    string
	}{
		{"the same twice", whole, whole, "the dumps are the same"},
		{"one longer", whole, dump(head, []byte{1, 2, 3, 4, 5}, nil), "ask for the same memory both times"},
		{"no System Exclusive", []byte{0xB0, 1, 2}, whole, "a whole System Exclusive message"},
		{"cut short", whole[:len(whole)-1], whole, "a whole System Exclusive message"},
		{"nothing", nil, nil, "a whole System Exclusive message"},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := Dumps(test.was, test.is)
			require.ErrorContains(t, err, test.want)
		})
	}
}

func FuzzDumps(f *testing.F) {
	f.Add(dump(head, midi.AppendPacked(nil, withCRC(memory(1)), midi.FirstHigh), midi.TwosComplement), 9, byte(1))
	f.Fuzz(func(t *testing.T, m []byte, at int, to byte) {
		other := slices.Clone(m)
		if at >= 0 && at < len(m) {
			other[at] = to
		}
		c, err := Dumps(m, other)
		if err == nil {
			require.NotEmpty(t, c.Changed)
		}
	})
}
