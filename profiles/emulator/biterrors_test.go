package emulator

import (
	"bytes"
	"math"
	"math/bits"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestAShareOfTheBytesIsHit(t *testing.T) {
	const share, n = 0.02, 100_000
	sent := bytes.Repeat([]byte{0x55}, n)
	got := newBitErrors(share, 7, 0).pass(sent)
	hit, each := 0, [8]int{}
	for _, b := range got {
		wrong := b ^ 0x55
		require.LessOrEqual(t, bits.OnesCount8(wrong), 1)
		if wrong != 0 {
			hit++
			each[bits.TrailingZeros8(wrong)]++
		}
	}
	// A binomial count scatters by √(n·p·(1−p)); five times that is once in two million.
	within := func(p float64) float64 { return 5 * math.Sqrt(n*p*(1-p)) }
	require.InDelta(t, n*share, hit, within(share))
	for bit, count := range each {
		require.InDelta(t, n*share/8, count, within(share/8), "bit %d", bit)
	}
	require.Equal(t, bytes.Repeat([]byte{0x55}, n), sent, "what was handed in stays")
	require.Equal(t, got, newBitErrors(share, 7, 0).pass(sent), "the same seed, the same errors")
	require.NotEqual(t, got, newBitErrors(share, 8, 0).pass(sent))
	require.NotEqual(t, got, newBitErrors(share, 7, 1).pass(sent), "the other direction has errors of its own")
}

func TestBitErrorsOnTheWay(t *testing.T) {
	b := onBench(t, Options{Faults: Faults{BitErrorsOut: 1}})
	require.NotEqual(t, loaded, b.ask(load))
	require.Equal(t, b.slots[1], b.edit, "what came in was whole")
	require.Len(t, fromHex(t, b.ask(load)), len(fromHex(t, loaded)))

	b = onBench(t, Options{Faults: Faults{BitErrorsIn: 1}})
	require.Empty(t, b.ask(load))
	require.Equal(t, b.slots[0], b.edit)
}
