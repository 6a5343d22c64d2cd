package midi

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestNibbles(t *testing.T) {
	for _, c := range []struct {
		name  string
		order NibbleOrder
		src   string
		want  string
	}{
		{"nothing", HighNibbleFirst, "", ""},
		{"high half first", HighNibbleFirst, "A5 0F", "0A 05 00 0F"},
		{"low half first", LowNibbleFirst, "A5 0F", "05 0A 0F 00"},
	} {
		t.Run(c.name, func(t *testing.T) {
			src, err := ParseHex(c.src)
			require.NoError(t, err)
			got := AppendNibbles([]byte{0x55}, src, c.order)
			require.Equal(t, c.want, Hex(got[1:]))
			back, err := AppendFromNibbles([]byte{0x55}, got[1:], c.order)
			require.NoError(t, err)
			require.Equal(t, append([]byte{0x55}, src...), back)
		})
	}
}

func TestNibblesThatCannotBe(t *testing.T) {
	for _, c := range []struct{ name, src, want string }{
		{"an odd one", "0A 05 00", "3 of them"},
		{"more than four bits", "0A 15", "byte 1 is 15"},
	} {
		t.Run(c.name, func(t *testing.T) {
			src, err := ParseHex(c.src)
			require.NoError(t, err)
			got, err := AppendFromNibbles([]byte{0x55}, src, HighNibbleFirst)
			require.ErrorContains(t, err, c.want)
			require.Equal(t, []byte{0x55}, got)
		})
	}
}
