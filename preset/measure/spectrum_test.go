package measure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestSpectrumAndBack(t *testing.T) {
	x := noiseOf(1000, 1)
	back := waveform(spectrum(x, 1080), 1080)
	for i := range back {
		want := 0.0
		if i < len(x) {
			want = x[i]
		}
		require.InDelta(t, want, back[i], 1e-12)
	}
}

func TestThinningKeepsWhatTheBandHolds(t *testing.T) {
	const rate, step = 48000.0, 4
	tone := filled(9600, func(i int) float64 {
		// Fades in and out, so that the ends of the take do not ring.
		return math.Sin(2*math.Pi*1000*float64(i)/rate) * math.Pow(math.Sin(math.Pi*float64(i)/9600), 2)
	})
	slow := thin(tone, rate, band{0, 4000}, step)
	require.Len(t, slow, 2400)
	for i, v := range slow {
		require.InDelta(t, tone[i*step], v, 1e-6)
	}
	high := filled(9600, func(i int) float64 {
		return math.Sin(2*math.Pi*5500*float64(i)/rate) * math.Pow(math.Sin(math.Pi*float64(i)/9600), 2)
	})
	for _, v := range thin(high, rate, band{0, 4000}, step) {
		require.InDelta(t, 0, v, 1e-5, "5.5 kHz lies beyond 1.3·4 kHz")
	}
}

func TestThinningStepsLeaveTheRate(t *testing.T) {
	for _, c := range []struct {
		rate float64
		step int
	}{{8000, 1}, {22050, 2}, {44100, 4}, {48000, 4}, {96000, 8}, {192000, 16}, {384000, 32}} {
		require.Equal(t, c.step, thinning(c.rate, halfRate), "%v Hz", c.rate)
	}
}

func TestDeconvolutionFindsACopy(t *testing.T) {
	part := noiseOf(400, 1)
	whole := make([]float64, 6000)
	for i, v := range part {
		whole[i] += v
		whole[1500+i] -= 0.4 * v
	}
	h := deconvolve(whole, part, 12000, 1e-3, band{100, 4000})
	require.InDelta(t, 1, h[0], 0.02)
	require.InDelta(t, -0.4, h[1500], 0.02)
	require.Less(t, haze(h[20:1480]), 0.02)
}
