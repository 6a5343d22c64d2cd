package preset

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func evenUnit() Unit {
	return Unit{Name: "even", Kind: Drum, Heads: []Head{
		{Head: 2, Delay: 120.1, DelaySD: 0.05, Level: -6, HighCutHz: 3000},
		{Head: 4, Delay: 239.9, DelaySD: 0.05, Level: 0, HighCutHz: 3100},
		{Head: 6, Delay: 360.0, DelaySD: 0.05, Level: -3, HighCutHz: 3200},
	}}
}

func TestHeadsInferredFromEvenSpacing(t *testing.T) {
	u, err := evenUnit().Predict(1, 6)
	require.NoError(t, err)
	require.Equal(t, []int{1, 2, 3, 4, 5, 6}, u.HeadNumbers())
	for i, want := range []float64{60, 120, 180, 240, 300, 360} {
		h := u.Heads[i]
		require.InDelta(t, want, float64(h.Delay), 0.2)
		require.Equal(t, i%2 == 0, h.Inferred, "head %d", h.Head)
		if h.Inferred {
			// Three heads 0.07 ms off a line at the most: the line is known to about
			// 0.1/√3 ms in its middle, less well outside.
			require.Less(t, float64(h.DelaySD), 0.15)
			require.Greater(t, float64(h.DelaySD), 0.03)
			require.InDelta(t, -3, float64(h.Level), 1e-9, "the mean of the measured ones")
			require.Equal(t, Decibels(6), h.LevelSD)
		}
	}
	require.Equal(t, Hertz(3000), u.Heads[0].HighCutHz, "the tone of the nearest head")
	require.NoError(t, u.Validate())
	require.Len(t, evenUnit().Heads, 3)
}

func TestWhatCannotBeInferred(t *testing.T) {
	one := evenUnit()
	one.Heads = one.Heads[1:2]
	uneven := evenUnit()
	uneven.Heads[1].Delay = 250
	vague := uneven
	vague.Heads = append([]Head(nil), uneven.Heads...)
	vague.Heads[1].DelaySD = 65
	far := evenUnit()
	for i := range far.Heads {
		far.Heads[i].Delay -= 80
	}
	for _, c := range []struct {
		name        string
		unit        Unit
		first, last int
		want        string
	}{
		{"one head", one, 1, 6, "at least two"},
		{"heads that are not evenly spaced", uneven, 1, 6, "off even spacing"},
		{"a head whose place is hardly known", vague, 1, 6, "off even spacing"},
		{"heads before the first", far, 1, 6, "does not reach back"},
		{"the wrong way round", evenUnit(), 6, 1, "the lesser first"},
		{"head 0", evenUnit(), 0, 6, "from 1 to 64"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := c.unit.Predict(c.first, c.last)
			require.ErrorContains(t, err, c.want)
		})
	}
}
