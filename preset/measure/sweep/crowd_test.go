package sweep

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/signals"
)

// lasting is the short signal with a sweep of so many seconds.
func lasting(seconds float64) signals.Signal {
	s := short()
	s.Sweep.Seconds = seconds
	return s
}

// A sweep whose L·ln 2 is the head's delay puts the second harmonic of the head
// where the direct sound is, which would pass for a harmonic of 0 dB.
func TestTheDirectSoundIsNoHarmonic(t *testing.T) {
	m := usual()
	m.heads = m.heads[1:2]
	s := lasting(0.26302 / math.Ln2 * math.Log(500))
	require.InDelta(t, 263.02, float64(s.Sweep.Ahead(2)), 1e-6)
	r, err := Measure(m.take(s), s, []int{4})
	require.NoError(t, err)
	require.True(t, r.Harmonics[0].Covered)
	require.Empty(t, r.Harmonics[0].Curve)
	require.False(t, r.Harmonics[1].Covered, "L·ln 3 is 417 ms")
	require.True(t, r.Harmonics[3].Covered, "the fourth follows the fifth by 85 ms, within its gate")
	require.True(t, told(r, "not told: of head 4 the 2nd, 5th: use a sweep of 4 s"), "%v", r.Warnings)

	// The direct sound in a channel of its own covers nothing.
	m.twoChannels, m.square = true, 0.8
	r, err = Measure(m.take(s), s, []int{4})
	require.NoError(t, err)
	require.False(t, r.Harmonics[0].Covered)
	level, ok := r.Harmonics[0].At(500)
	require.True(t, ok)
	tone := preset.Tone{LowCut: 80, HighCut: 2800}
	require.InDelta(t, 20*math.Log10(0.8*0.1/2*tone.Magnitude(1000)/tone.Magnitude(500)), float64(level), 0.5)

	// Nor does it in the sweep that was advised.
	m.twoChannels, s = false, lasting(4)
	r, err = Measure(m.take(s), s, []int{4})
	require.NoError(t, err)
	require.False(t, r.Harmonics[0].Covered)
	require.False(t, told(r, "not told"))
}

// Heads at 121.4 and 405.6 ms, and a sweep in which the third harmonic of the
// later one stands with the second of the earlier one: L·ln(3/2) apart.
func TestTheHarmonicsOfTwoHeadsCoverEachOther(t *testing.T) {
	m := usual()
	m.heads = []head{m.heads[0], m.heads[2]}
	s := lasting((405.611 - 121.37) / 1000 / math.Log(1.5) * math.Log(500))
	r, err := Measure(m.take(s), s, []int{2, 6})
	require.NoError(t, err)
	for _, d := range r.Harmonics {
		if d.Way == 0 && d.Order == 2 || d.Way == 1 && d.Order == 3 {
			require.True(t, d.Covered, "%d %d", d.Way, d.Order)
		}
	}
	require.True(t, told(r, "not told: of head 2 the 2nd"), "%v", r.Warnings)
	require.True(t, told(r, ": use a sweep of "), "%v", r.Warnings)

	long := lasting(15)
	r, err = Measure(m.take(long), long, []int{2, 6})
	require.NoError(t, err)
	for _, d := range r.Harmonics {
		require.False(t, d.Covered, "%d %d", d.Way, d.Order)
	}
	require.Empty(t, r.Warnings)
}

// In a sweep of 1.5 s the second harmonic of the head at 405 ms stands at 238 ms,
// as an echo would, some 25 dB down.
func TestAHarmonicIsNoHead(t *testing.T) {
	m := usual()
	m.heads, m.square = []head{m.heads[0], m.heads[2]}, 0.9
	s := lasting(1.5)
	require.InDelta(t, 405.611-167.3, 405.611-float64(s.Sweep.Ahead(2)), 0.1)
	r, err := Measure(m.take(s), s, []int{2, 6})
	require.NoError(t, err)
	require.InDelta(t, 121.37, float64(r.Heads[0].Delay), 0.05)
	require.InDelta(t, 405.611, float64(r.Heads[1].Delay), 0.05)
	require.False(t, told(r, "where the distortion of"))

	// Who insists on three heads is told which of them may be none.
	r, err = Measure(m.take(s), s, []int{2, 4, 6})
	require.NoError(t, err)
	require.InDelta(t, 238.3, float64(r.Heads[1].Delay), 2)
	require.True(t, told(r, "head 4 stands where the distortion of a later, louder echo would: use a longer sweep"), "%v", r.Warnings)
}

// Of Chebyshev's polynomial Tn a sine of full amplitude makes its nth harmonic
// and nothing else (Abramowitz & Stegun 22.3.15: Tn(cos φ) = cos nφ). So the size
// of each order is the factor that it is added with, whatever the frequency.
func TestHarmonicsOfChebyshevPolynomials(t *testing.T) {
	s := short()
	x := s.Samples()
	parts := []float64{0.08, 0.04, 0.02, 0.01} // of orders 2 to 5
	start, end := int(s.Lead.Samples(s.Rate)), int((s.Lead + preset.Millis(1000*s.Sweep.Seconds)).Samples(s.Rate))
	late := int(0.3 * float64(s.Rate))
	y := append([]float64(nil), x...)
	for i := start; i < end && i+late < len(y); i++ {
		u := x[i] / s.Peak()
		before, now, sum := 1.0, u, u
		for _, part := range parts {
			before, now = now, 2*u*now-before
			sum += part * now
		}
		y[i+late] += 0.8 * s.Peak() * sum
	}
	r, err := Measure(measure.Take{Rate: s.Rate, Samples: y}, s, []int{1})
	require.NoError(t, err)
	require.InDelta(t, 300, float64(r.Heads[0].Delay), 0.005)
	for _, d := range r.Harmonics {
		want := 20 * math.Log10(parts[d.Order-2])
		seen := 0
		for _, h := range d.Curve {
			require.LessOrEqual(t, float64(h.Hz)*float64(d.Order), 10_000/edge+1, "what lies above the sweep's band is not told")
			// The fades and the ends of the band ring; a third of an octave holds less
			// than a gate's few periods at the lowest.
			if h.Hz >= 125 && float64(h.Hz)*float64(d.Order) < 6000 {
				require.InDelta(t, want, float64(h.Level), 0.25, "order %d at %v", d.Order, h.Hz)
				seen++
			}
		}
		require.Greater(t, seen, 7, "order %d", d.Order)
	}
}
