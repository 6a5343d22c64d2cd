package measure

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/require"
)

// heardGain is what a tone leaves of a sine, measured after it has settled.
func heardGain(t tone, f, rate float64) float64 {
	p := t.at(rate)
	var sum complex128
	n, settle := int(rate), int(rate)
	for i := range settle + n {
		phase := 2 * math.Pi * f * float64(i) / rate
		y := p.step(math.Sin(phase))
		if i >= settle {
			sum += complex(y, 0) * cmplx.Exp(complex(0, -phase))
		}
	}
	return 2 * cmplx.Abs(sum) / float64(n)
}

func TestMagnitudeIsWhatIsHeard(t *testing.T) {
	for _, c := range []tone{
		{},
		{highCut: 5e-5},
		{lowCut: 90},
		{highCut: 5e-5, lowCut: 90},
		{highCut: 4e-5, second: 2e-9},
		{highCut: 5e-5, bell: bell{gain: 4, middle: 800, quality: 0.9}},
	} {
		for _, f := range []float64{100, 1000, 3000} {
			require.InDelta(t, heardGain(c, f, 12000), c.magnitude(f, 12000), 1e-3, "%+v at %v Hz", c, f)
		}
	}
}

func TestNoToneLeavesEverything(t *testing.T) {
	for _, f := range []float64{20, 1000, 5000} {
		require.InDelta(t, 1, tone{}.magnitude(f, 12000), 1e-12, "rounding")
	}
	low, high := tone{}.corners(12000)
	require.Zero(t, low)
	require.Zero(t, high)
}

func TestCornersAreWhereHalfThePowerIsLeft(t *testing.T) {
	for _, c := range []tone{{highCut: 5e-5, lowCut: 90}, {highCut: 1e-4, lowCut: 30}, {highCut: 6e-5, second: 3e-9, lowCut: 200}} {
		low, high := c.corners(48000)
		require.InDelta(t, math.Sqrt(0.5), tone{lowCut: c.lowCut}.magnitude(low, 48000), 1e-6)
		require.InDelta(t, math.Sqrt(0.5), tone{highCut: c.highCut, second: c.second}.magnitude(high, 48000), 1e-6)
	}
}

// Far below half the rate a backward difference is as good as the analogue
// filter: 1/(2π·159.155 µs) = 1 kHz.
func TestHighCutIsAnaloguesAtAHighRate(t *testing.T) {
	_, high := tone{highCut: 1 / (2 * math.Pi * 1000)}.corners(1e6)
	require.InDelta(t, 1000, high, 4)
}

func TestBellLiftsItsMiddle(t *testing.T) {
	b := tone{bell: bell{gain: 6, middle: 1000, quality: 1}}
	require.InDelta(t, math.Pow(10, 6.0/20), b.magnitude(1000, 48000), 1e-9)
	require.InDelta(t, 1, b.magnitude(10, 48000), 1e-3)
}

// response is what a tone leaves of a click: its spectrum at f.
func response(t tone, f, rate float64) complex128 {
	p := t.at(rate)
	var sum complex128
	for i := range int(rate / 10) {
		x := 0.0
		if i == 0 {
			x = 1
		}
		sum += complex(p.step(x), 0) * cmplx.Exp(complex(0, -2*math.Pi*f*float64(i)/rate))
	}
	return sum
}

// What a fit at a low rate finds has to hold at the full one. Up to a tenth of the
// rate delays come within 3 µs, a sixteenth of the nearest that is asked of them, and
// levels within what is asked: 0.1 dB of a one-pole tone, 0.2 dB, less than half, of a
// steeper one. Above, the bilinear part bends levels, by 1 dB at 2.5 kHz of 12: there
// the fit at the full rate has the last word.
func TestToneIsTheSameAtEveryRate(t *testing.T) {
	for _, c := range []struct {
		tone  tone
		level float64 // dB
	}{{tone{highCut: 5e-5, lowCut: 90}, 0.1}, {tone{highCut: 8e-5, second: 2e-9}, 0.2}} {
		for _, rate := range []float64{12000, 16000, 24000} {
			for f := 300.0; f <= rate/10; f += 300 {
				ratio := response(c.tone, f, rate) / response(c.tone, f, toneRate)
				require.InDelta(t, 0, -cmplx.Phase(ratio)/(2*math.Pi*f)*1e6, 3, "µs, %+v at %v Hz, rate %v", c.tone, f, rate)
				require.InDelta(t, 0, 20*math.Log10(cmplx.Abs(ratio)), c.level, "dB, %+v at %v Hz, rate %v", c.tone, f, rate)
			}
		}
	}
}
