package learn

import (
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

func exclusive(t *testing.T, hex string) []byte {
	t.Helper()
	m, err := midi.ParseHex(hex)
	require.NoError(t, err)
	return m
}

// A unit whose manual reads F0 7D 05 dev 10 ah al vh vl sum F7, the sum making
// everything from 10 to itself zero in 7 bits. By hand for address 00 01:
//
//	value 0:   10+00+01+00+00 = 11h, sum 6F    value 121: 11h+79h = 8Ah → 0A, sum 76
//	value 60:  11h+3Ch = 4Dh, sum 33           value 200 (01 48): 11h+49h = 5Ah, sum 26
func TestASystemExclusiveKnobIsTakenApart(t *testing.T) {
	heard := [][]byte{
		exclusive(t, "F0 7D 05 00 10 00 01 00 00 6F F7"),
		exclusive(t, "F0 7D 05 00 10 00 01 00 3C 33 F7"),
		exclusive(t, "F0 7D 05 00 10 00 01 00 79 76 F7"),
		exclusive(t, "F0 7D 05 00 10 00 01 01 48 26 F7"),
	}
	found := Knob(heard)
	require.Len(t, found, 1)
	f := found[0]
	require.Equal(t, Exclusive, f.Kind)
	require.Equal(t, [2]int{0, 200}, [2]int{f.Least, f.Greatest})
	require.Equal(t, &Sum{Kind: "twos-complement", From: 4, Since: 3, To: 8, At: 9}, f.Shape.Sum)
	require.Equal(t, "F0 7D 05 00 (10 00 01 {value:7x2}) {sum} F7", f.Shape.Template(nil))
	require.Contains(t, f.String(), `byte 9 is the checksum "twos-complement" of bytes 4 to 8 (or from byte 3: what is 00 does not tell)`)

	// A second knob, address 00 03 (by hand: 13h, sum 6D; with 01: 14h, sum 6C),
	// shows which bytes are the address.
	other := Knob([][]byte{
		exclusive(t, "F0 7D 05 00 10 00 03 00 00 6D F7"),
		exclusive(t, "F0 7D 05 00 10 00 03 00 01 6C F7"),
	})
	places := Places(f, other[0])
	require.Equal(t, []int{6}, places)
	require.Equal(t, "F0 7D 05 00 (10 00 {address} {value:7x2}) {sum} F7", f.Shape.Template(places))
}

func TestTheOrderOfBytesIsThatOfTheSmallerSteps(t *testing.T) {
	low := Knob(swept(0, 2000, 50, func(code int) [][]byte {
		return [][]byte{{0xF0, 0x7D, 0x01, 0x02, byte(code & 0x7F), byte(code >> 7), 0xF7}}
	}))[0]
	require.True(t, low.Shape.LowBits)
	require.Equal(t, 2000, low.Greatest)
	require.Equal(t, "F0 7D 01 02 {value:7x2<} F7", low.Shape.Template(nil))

	nibbles := Knob(swept(0, 255, 3, func(code int) [][]byte {
		return [][]byte{{0xF0, 0x7D, 0x01, 0x02, byte(code >> 4), byte(code & 0x0F), 0xF7}}
	}))[0]
	require.Equal(t, 4, nibbles.Shape.Bits)
	require.Equal(t, 255, nibbles.Greatest)
	require.Equal(t, "F0 7D 01 02 {value:4x2} F7", nibbles.Shape.Template(nil))
}

func TestEveryKindOfChecksumIsRecognised(t *testing.T) {
	for _, rule := range rules7 {
		t.Run(rule.name, func(t *testing.T) {
			heard := swept(0, 127, 1, func(code int) [][]byte {
				m := []byte{0xF0, 0x7D, 0x11, 0x22, byte(code), 0, 0xF7}
				m[5] = rule.of(m[2:5])
				return [][]byte{m}
			})
			sum := Knob(heard)[0].Shape.Sum
			require.NotNil(t, sum)
			require.Equal(t, Sum{Kind: rule.name, From: 2, Since: 2, To: 4, At: 5}, *sum)
		})
	}
}

// A value that stands in the last place is no checksum, whatever it is.
func TestAValueIsNotTakenForAChecksum(t *testing.T) {
	found := Knob(swept(0, 127, 1, func(code int) [][]byte { return [][]byte{{0xF0, 0x7D, 0x11, 0x22, byte(code), 0xF7}} }))
	require.Nil(t, found[0].Shape.Sum)
	require.Equal(t, 128, found[0].Distinct)
	require.Equal(t, "F0 7D 11 22 {value} F7", found[0].Shape.Template(nil))
	require.Contains(t, found[0].String(), "byte 4 moves, codes 0 to 127")
}
