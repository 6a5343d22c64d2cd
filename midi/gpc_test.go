package midi

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestGlobalParameters(t *testing.T) {
	for _, c := range []struct {
		name string
		g    GlobalParameters
		want string
	}{
		// CA-024 page 3: mixer channel 71, insert 3, parameter 4; the value here is
		// 1000 = 7·128 + 104, low 7 bits first: 68 07.
		{"the standard's example", GlobalParameters{Device: 0x7F, Slot: []byte{1, 0x47, 2, 3}, ParameterBytes: 1, ValueBytes: 2, Pairs: []GlobalParameter{{4, 1000}}},
			"F0 7F 7F 04 05 02 01 02 01 47 02 03 04 68 07 F7"},
		{"no slot path, two pairs", GlobalParameters{ParameterBytes: 1, ValueBytes: 1, Pairs: []GlobalParameter{{0, 5}, {1, 127}}},
			"F0 7F 00 04 05 00 01 01 00 05 01 7F F7"},
		// The parameter 130 = 1·128 + 2 goes high byte first.
		{"wide parameter numbers", GlobalParameters{Slot: []byte{1, 1}, ParameterBytes: 2, ValueBytes: 1, Pairs: []GlobalParameter{{130, 3}}},
			"F0 7F 00 04 05 01 02 01 01 01 01 02 03 F7"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := c.g.Message()
			require.NoError(t, err)
			require.Equal(t, c.want, Hex(got))
			back, err := ParseGlobalParameters(got)
			require.NoError(t, err)
			require.Equal(t, c.want, Hex(must(t, back)))
			require.Equal(t, c.g.Pairs, back.Pairs)
		})
	}
}

func must(t *testing.T, g GlobalParameters) []byte {
	t.Helper()
	b, err := g.Message()
	require.NoError(t, err)
	return b
}

func TestGlobalParametersThatCannotBe(t *testing.T) {
	for _, c := range []struct {
		name string
		g    GlobalParameters
		want string
	}{
		{"half a slot entry", GlobalParameters{Slot: []byte{1}, ParameterBytes: 1, ValueBytes: 1}, "slot path of 1 bytes"},
		{"a value over 7 bits", GlobalParameters{ParameterBytes: 1, ValueBytes: 1, Pairs: []GlobalParameter{{0, 128}}}, "value 128"},
		{"a parameter over 7 bits", GlobalParameters{ParameterBytes: 1, ValueBytes: 1, Pairs: []GlobalParameter{{128, 0}}}, "parameter 128"},
		{"no width", GlobalParameters{}, "parameters of 0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := c.g.Message()
			require.ErrorContains(t, err, c.want)
		})
	}
	for _, c := range []struct{ name, bytes, want string }{
		{"another message", "F0 7F 00 04 01 00 00 01 01 F7", "no Global Parameter Control"},
		{"cut inside the path", "F0 7F 00 04 05 02 01 01 01 F7", "slot path"},
		{"half a pair", "F0 7F 00 04 05 00 01 01 01 F7", "wanted 2 for each pair"},
		{"a width of 0", "F0 7F 00 04 05 00 00 01 01 F7", "1 to 8"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := ParseGlobalParameters(unhex(t, c.bytes))
			require.ErrorContains(t, err, c.want)
		})
	}
}

func FuzzGlobalParameters(f *testing.F) {
	f.Add([]byte{0xF0, 0x7F, 0, 4, 5, 1, 1, 2, 2, 1, 0, 0x68, 7, 0xF7})
	f.Add([]byte{0xF0, 0x7F, 0, 4, 5, 0x7F, 8, 8, 0xF7})
	f.Fuzz(func(t *testing.T, message []byte) {
		g, err := ParseGlobalParameters(message)
		if err != nil {
			return
		}
		for _, p := range g.Pairs {
			require.GreaterOrEqual(t, p.Number, 0)
			require.GreaterOrEqual(t, p.Value, 0)
		}
	})
}
