package learn

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestFindingsBecomeLinesOfAProfile(t *testing.T) {
	nrpn := func(code int) [][]byte {
		return [][]byte{cc(2, 98, 3), cc(2, 99, 1), cc(2, 6, code), cc(2, 98, 127), cc(2, 99, 127)}
	}
	for _, test := range []struct {
		name  string
		heard [][]byte
		want  string
	}{
		{"a controller", swept(0, 127, 1, func(code int) [][]byte { return [][]byte{cc(3, 85, code)} }), "control = 85\n\n[scale.depth]\ncodes = [0, 127]"},
		{
			"a pair", swept(0, 16383, 127, func(code int) [][]byte { return [][]byte{cc(1, 44, code&0x7F), cc(1, 12, code>>7)} }),
			"control = [12, 44]\n\n[control]\norder = \"low-first\"",
		},
		{"a parameter number", swept(0, 90, 9, nrpn), "nrpn = \"01 03\"\n\n[nrpn]\norder = \"low-first\"\nvalue = 7\nnull = true"},
		{
			"System Exclusive", swept(0, 127, 1, func(code int) [][]byte { return [][]byte{{0xF0, 0x7D, 0x11, 0x22, byte(code), 0xF7}} }),
			"send = \"F0 7D 11 22 {value} F7\"",
		},
	} {
		t.Run(test.name, func(t *testing.T) {
			text := strings.Join(Knob(test.heard)[0].Profile("depth", nil), "\n")
			require.Contains(t, text, "[[parameter]]\nname = \"depth\"\nscale = \"depth\"\n")
			require.Contains(t, text, test.want)
		})
	}
}

func TestAKnownPlaceOfTheNumberGivesAnAddress(t *testing.T) {
	f := Finding{Kind: Exclusive, Least: 0, Greatest: 5, Distinct: 3, Shape: &Shape{
		Example: []byte{0xF0, 0x7D, 0x10, 0x01, 0x02, 0x00, 0x33, 0xF7}, At: 5, Count: 1, Bits: 7, Sum: &Sum{Kind: "xor", From: 2, Since: 2, To: 5, At: 6},
	}}
	text := strings.Join(f.Profile("depth", []int{3, 4}), "\n")
	require.Contains(t, text, "address = 130\n\n[message.set]\nsend = \"F0 7D (10 {address:7x2} {value}) {sum} F7\"\n\n[checksum]\nkind = \"xor\"")
}

func TestWhatNoProfileCanSetHasNoLines(t *testing.T) {
	require.Nil(t, Finding{Kind: Bend}.Profile("x", nil))
	require.Nil(t, Finding{Kind: Exclusive, Shape: &Shape{Example: []byte{0xF0, 1, 2, 3, 0xF7}}}.Profile("x", nil))
}
