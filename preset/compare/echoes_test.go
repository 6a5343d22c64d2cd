package compare

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/measure"
)

// Two machines played sample by sample, one note: what differs is known.
func TestEchoDifferencesComeBackAsMade(t *testing.T) {
	const rate = 48000.0
	dry := newTune(21, 1, 1, 60).sampled(2*rate, 0, 1/rate)
	a := plain{heads: []head{{5000, 0.7}, {11000, 0.9}, {17000, 0.5}}, loop: 0.4}
	b := plain{heads: []head{{5024, 0.63}, {10856, 0.9}, {17000, -0.5}}, loop: 0.4}
	x, y := hissed(a.play(dry, 1), 1e-5, 1), hissed(times(b.play(dry, 1), 0.8), 1e-5, 2)
	for name, takes := range map[string][2]Take{
		"mixed": {mono(rate, x), mono(rate, y)},
		"direct sound in a channel of its own": {
			{Rate: rate, Channels: [][]float64{dry, hissed(a.play(dry, 0), 1e-5, 3)}, Dry: 1},
			{Rate: rate, Channels: [][]float64{dry, hissed(b.play(dry, 0), 1e-5, 4)}, Dry: 1},
		},
	} {
		t.Run(name, func(t *testing.T) {
			r := compared(t, takes[0], takes[1], Options{})
			require.Equal(t, Windows, r.From)
			for i, h := range a.heads {
				at := preset.SamplesToMillis(float64(h.delay), rate)
				e := nearest(t, r.Echoes, at)
				// The note's tail lies below its neighbours: a tenth of a millisecond
				// and half a decibel are well below what is noticed (6 ms, 1 dB).
				require.InDelta(t, float64(at), float64(e.At), 0.1)
				require.InDelta(t, 20*math.Log10(h.gain), float64(e.Level), 0.5)
				if i == 2 {
					require.True(t, e.Missing || math.Abs(float64(e.Delta)) > 0.3, "turned over, so it is not there as it was")
					continue
				}
				require.False(t, e.Missing)
				want := float64(b.heads[i].delay-h.delay) * 1000 / rate
				require.InDelta(t, want, float64(e.Delta), 0.03)
				require.InDelta(t, 20*math.Log10(b.heads[i].gain/h.gain), float64(e.DeltaDB), 0.3)
				require.Positive(t, float64(e.DeltaSD))
			}
		})
	}
}

// A recorder that is dull, or a little late at some frequencies, is no difference of
// the machines: their echoes stand where they stood to their own direct sound.
func TestEchoesAreHeldAgainstTheirOwnDirectSound(t *testing.T) {
	const rate, pole = 48000.0, 0.8 // a cut at 1.7 kHz: −ln(0.8)·48000/2π
	dry := newTune(21, 1, 1, 60).sampled(2*rate, 0, 1/rate)
	x := hissed(plain{heads: []head{{5000, 0.7}, {11000, 0.9}}, loop: 0.4}.play(dry, 1), 1e-5, 1)
	y := make([]float64, len(x))
	low := 0.0
	for i, v := range x {
		low += (1 - pole) * (v - low)
		y[i] = low
	}
	r := compared(t, mono(rate, x), mono(rate, y), Options{})
	for _, at := range []preset.Millis{preset.SamplesToMillis(5000, rate), preset.SamplesToMillis(11000, rate)} {
		e := nearest(t, r.Echoes, at)
		require.InDelta(t, 0, float64(e.Delta), 0.02)
		require.InDelta(t, 0, float64(e.DeltaDB), 0.1)
	}
}

func nearest(t *testing.T, all []Echo, at preset.Millis) Echo {
	t.Helper()
	require.NotEmpty(t, all)
	best := all[0]
	for _, e := range all {
		if math.Abs(float64(e.At-at)) < math.Abs(float64(best.At-at)) {
			best = e
		}
	}
	return best
}

// With the heads named, both units are measured, and differences lie within three of
// their joint standard deviations and a hundredth of a millisecond.
func TestWithHeadsBothUnitsAreMeasured(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIP: measuring two takes takes seconds")
	}
	const rate = 24000.0
	dry := newTune(21, 1, 1, 60).sampled(2*rate, 0, 1/rate)
	a := plain{heads: []head{{2500, 0.7}, {5500, 0.9}}, loop: 0.4}
	b := plain{heads: []head{{2512, 0.63}, {5428, 0.9}}, loop: 0.4}
	r := compared(t, mono(rate, hissed(a.play(dry, 1), 1e-4, 1)), mono(rate, hissed(b.play(dry, 1), 1e-4, 2)), Options{Heads: []int{2, 4}})
	require.Equal(t, Measured, r.From)
	require.NotNil(t, r.UnitA)
	require.NotNil(t, r.UnitB)
	for i, e := range r.Echoes[:2] {
		require.Equal(t, 0, e.Turn)
		require.Equal(t, 2+2*i, e.Head)
		want := float64(b.heads[i].delay-a.heads[i].delay) * 1000 / rate
		require.InDelta(t, want, float64(e.Delta), 3*float64(e.DeltaSD)+0.01)
		require.InDelta(t, 20*math.Log10(b.heads[i].gain/a.heads[i].gain), float64(e.DeltaDB), 3*float64(e.DeltaDBSD)+0.05)
		require.Positive(t, float64(e.DeltaDBSD))
	}
}

// 6 ms below 240 ms, 2.5 % above (Friberg & Sundberg, J. Acoust. Soc. Am. 98(5), 1995).
func TestWhatIsNoticed(t *testing.T) {
	for _, c := range []struct {
		e    Echo
		want bool
	}{
		{Echo{At: 100, Delta: 5.9, DeltaDB: 0.9}, false},
		{Echo{At: 100, Delta: -6}, true},
		{Echo{At: 400, Delta: 9.9}, false},
		{Echo{At: 400, Delta: 10}, true},
		{Echo{At: 100, DeltaDB: -1}, true},
		{Echo{At: 100, Missing: true}, true},
	} {
		require.Equal(t, c.want, c.e.Noticeable(), "%+v", c.e)
	}
}

func TestEchoesArePairedByHeadAndTurn(t *testing.T) {
	a := []measure.Echo{{At: 100, Head: 1, Level: -1, SD: 0.3, LevelSD: 0.1}, {At: 300, Head: 2}, {At: 400, Head: 1, Turn: 1}, {At: 900, Head: 1, Turn: 3, Level: -55}}
	b := []measure.Echo{{At: 310, Head: 2, Level: -2}, {At: 101, Head: 1, Level: -3, SD: 0.4}}
	got := paired(a, b)
	require.Len(t, got, 3, "what is too weak to tell is left out")
	require.Equal(t, Echo{Head: 1, At: 100, Level: -1, Delta: 1, DeltaDB: -2, DeltaSD: 0.5, DeltaDBSD: 0.1}, got[0])
	require.Equal(t, Echo{Head: 2, At: 300, Delta: 10, DeltaDB: -2}, got[1])
	require.True(t, got[2].Missing)
}
