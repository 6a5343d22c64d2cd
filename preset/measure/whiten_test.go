package measure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestRingingIsPredicted(t *testing.T) {
	const rate = 12000.0
	x := filled(1200, func(i int) float64 {
		at := float64(i) / rate
		return math.Exp(-at/0.2)*math.Sin(2*math.Pi*220*at) + 0.5*math.Exp(-at/0.05)*math.Sin(2*math.Pi*673*at+1)
	})
	for i, v := range noiseOf(len(x), 1e-4) {
		x[i] += v
	}
	a := ringing(x[:600], rate, 1e-8, 48)
	require.NotNil(t, a)
	white := filter(a, x)
	order := int(ringOrder * rate)
	require.Greater(t, meanSquare(white[:20]), 1e-5, "the attack stays")
	require.Less(t, meanSquare(white[order:]), 1e-3*meanSquare(x[order:]), "the ringing goes, also beyond what was learnt from")
}

func TestTooShortAPartTeachesNothing(t *testing.T) {
	require.Nil(t, ringing([]float64{1, 2, 3}, 12000, 1e-6, 2))
	require.Nil(t, ringing(nil, 12000, 1e-6, 0))
}

func TestLagProducts(t *testing.T) {
	x := noiseOf(60, 1)
	c := lagProducts(x, 10, 6)
	for i := range 7 {
		for j := range 7 {
			want := 0.0
			for at := 10; at < len(x); at++ {
				want += x[at-i] * x[at-j]
			}
			require.InDelta(t, want, c.At(i, j), 1e-9, "%d, %d", i, j)
		}
	}
}
