package emulator

import (
	"math/rand/v2"
	"slices"
)

// bitErrors hit a share of the bytes that pass, one bit of each, as a bad plug does.
type bitErrors struct {
	share  float64
	chance *rand.Rand
}

// The two directions are hit independently.
func newBitErrors(share float64, seed, direction uint64) bitErrors {
	return bitErrors{share, rand.New(rand.NewPCG(seed, direction))}
}

// pass is the bytes as they come out; those that were handed in stay as they are.
func (e bitErrors) pass(bytes []byte) []byte {
	if e.share == 0 {
		return bytes
	}
	bytes = slices.Clone(bytes)
	for i := range bytes {
		if e.chance.Float64() < e.share {
			bytes[i] ^= 1 << e.chance.IntN(8)
		}
	}
	return bytes
}
