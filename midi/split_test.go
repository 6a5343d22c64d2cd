package midi

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestSplit(t *testing.T) {
	for _, c := range []struct {
		name string
		in   string
		want []string
	}{
		{"nothing", "", nil},
		{"three controllers", "B0 63 01 B0 62 00 B0 06 07", []string{"B0 63 01", "B0 62 00", "B0 06 07"}},
		// M1 appendix A-2: running status goes on until the next status
		{"running status", "B0 63 01 62 00 06 07 C0 05 06", []string{"B0 63 01", "62 00", "06 07", "C0 05", "06"}},
		{"exclusive between", "B0 63 01 F0 7D 01 02 F7 C0 05", []string{"B0 63 01", "F0 7D 01 02 F7", "C0 05"}},
		{"a clock inside", "F0 7D F8 01 F7 B0 63 F8 01 62 00", []string{"F0 7D F8 01 F7", "B0 63 F8 01", "62 00"}},
		{"data without a status", "01 02 B0 63 01", []string{"01 02", "B0 63 01"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var got []string
			for _, m := range Split(unhex(t, c.in)) {
				got = append(got, Hex(m))
			}
			require.Equal(t, c.want, got)
		})
	}
}

func FuzzSplit(f *testing.F) {
	f.Add([]byte{0xB0, 0x63, 1, 0x62, 0, 0xF0, 0x7D, 0xF7, 0xC0})
	f.Fuzz(func(t *testing.T, b []byte) {
		require.True(t, bytes.Equal(b, bytes.Join(Split(b), nil)), "nothing is lost")
	})
}
