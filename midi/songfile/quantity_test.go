package songfile

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

// RP-001, the table of variable-length quantities; the rows below the line are
// worked by hand: 480 = 3·128 + 96, 960 = 7·128 + 64.
var quantities = []struct {
	n    int
	want string
}{
	{0x00, "00"},
	{0x40, "40"},
	{0x7F, "7F"},
	{0x80, "81 00"},
	{0x2000, "C0 00"},
	{0x3FFF, "FF 7F"},
	{0x4000, "81 80 00"},
	{0x100000, "C0 80 00"},
	{0x1FFFFF, "FF FF 7F"},
	{0x200000, "81 80 80 00"},
	{0x8000000, "C0 80 80 00"},
	{0xFFFFFFF, "FF FF FF 7F"},

	{100, "64"},
	{192, "81 40"},
	{200, "81 48"},
	{384, "83 00"},
	{480, "83 60"},
	{960, "87 40"},
}

func TestQuantities(t *testing.T) {
	for _, c := range quantities {
		written := appendQuantity(nil, c.n)
		require.Equal(t, c.want, midi.Hex(written))
		n, took := quantity(append(written, 0xFF))
		require.Equal(t, c.n, n, c.want)
		require.Equal(t, len(written), took, c.want)
	}
}

func TestQuantitiesComeBack(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 10_000 {
		want := r.IntN(maxQuantity+1) >> r.IntN(28)
		got, took := quantity(appendQuantity([]byte{}, want))
		require.Equal(t, want, got)
		require.Positive(t, took)
	}
}

func TestBrokenQuantities(t *testing.T) {
	for _, c := range []struct {
		name string
		in   []byte
		took int
	}{
		{"nothing", nil, 0},
		{"cut after one byte", []byte{0x81}, 0},
		{"cut after three bytes", []byte{0x81, 0x80, 0x80}, 0},
		{"four bytes that all go on", []byte{0xFF, 0xFF, 0xFF, 0xFF}, -1},
		{"five bytes", []byte{0x81, 0x80, 0x80, 0x80, 0x00}, -1},
	} {
		_, took := quantity(c.in)
		require.Equal(t, c.took, took, c.name)
	}
}

// A writer may spend more bytes than needed, as long as they are not five.
func TestQuantityWithLeadingZeros(t *testing.T) {
	n, took := quantity([]byte{0x80, 0x80, 0x80, 0x05})
	require.Equal(t, 5, n)
	require.Equal(t, 4, took)
}
