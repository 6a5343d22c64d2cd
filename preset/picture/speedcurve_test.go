package picture

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// wavering is a tone whose frequency is f·(1 + peak·cos 2πrt), with a second of
// silence before and after it.
func wavering(rate, f, peak, r, seconds float64) []float64 {
	quiet := int(rate)
	x := make([]float64, 2*quiet+int(seconds*rate))
	for i := range int(seconds * rate) {
		t := float64(i) / rate
		x[quiet+i] = 0.1 * math.Sin(2*math.Pi*f*(t+peak/(2*math.Pi*r)*math.Sin(2*math.Pi*r*t)))
	}
	return x
}

func followed(t *testing.T, rate, nominal preset.Hertz, x []float64, block int) ([]float64, preset.Millis) {
	t.Helper()
	c, err := NewSpeedCurve(rate, nominal)
	require.NoError(t, err)
	for len(x) > 0 {
		n := min(block, len(x))
		c.Add(x[:n])
		x = x[n:]
	}
	return c.Speed()
}

func TestTheSpeedIsFollowed(t *testing.T) {
	for _, c := range []struct {
		name             string
		rate, nominal, f float64
		peak             float64
	}{
		{"as it was made", 48000, 3150, 3150, 0.002},
		{"a tenth fast", 48000, 3150, 3465, 0.002},
		{"an eighth slow", 44100, 3150, 2756, 0.005},
		{"a low tone", 16000, 300, 300, 0.01},
		{"a tone near half the rate", 8000, 3150, 3150, 0.002},
	} {
		t.Run(c.name, func(t *testing.T) {
			const r = 0.9
			x := wavering(c.rate, c.f, c.peak, r, 1/r*5) // whole waves, so that their mean is nought
			speed, step := followed(t, preset.Hertz(c.rate), preset.Hertz(c.nominal), x, 1000)
			numbers, off := 0, 0.0
			for i, v := range speed {
				if math.IsNaN(v) {
					continue
				}
				numbers++
				at := (float64(i)+0.5)*step.Seconds() - 1
				off = math.Max(off, math.Abs(v-100*c.peak*math.Cos(2*math.Pi*r*at)))
			}
			// Windows lie half their length late, and the curve is for the eye: a
			// twelfth of the swing is a line's width in the drawing.
			require.LessOrEqual(t, off, 100*c.peak/12)
			require.InDelta(t, 5/r, float64(numbers)*step.Seconds(), 0.15, "silence is a gap")
			require.True(t, math.IsNaN(speed[0]))
			require.True(t, math.IsNaN(speed[len(speed)-1]))
		})
	}
}

func TestBlocksMayBeOfAnyLength(t *testing.T) {
	x := wavering(16000, 1000, 0.003, 2, 1)
	want, _ := followed(t, 16000, 1000, x, len(x))
	for _, block := range []int{1, 17, 4096} {
		got, _ := followed(t, 16000, 1000, x, block)
		require.Len(t, got, len(want))
		for i := range want {
			require.Equal(t, math.IsNaN(want[i]), math.IsNaN(got[i]))
			if !math.IsNaN(want[i]) {
				require.Equal(t, want[i], got[i])
			}
		}
	}
}

func TestNoToneHasNoSpeed(t *testing.T) {
	speed, _ := followed(t, 48000, 3150, make([]float64, 48000), 4096)
	require.Empty(t, speed)
	speed, _ = followed(t, 48000, 3150, nil, 4096)
	require.Empty(t, speed)
	bad := make([]float64, 48000)
	for i := range bad {
		bad[i] = math.NaN()
	}
	speed, _ = followed(t, 48000, 3150, bad, 4096)
	require.Empty(t, speed)
}

func TestTonesThatCannotBeFollowed(t *testing.T) {
	for _, c := range [][2]preset.Hertz{{48000, 0}, {8000, 4000}, {48000, preset.Hertz(math.NaN())}, {0, 100}, {preset.Hertz(math.Inf(1)), 100}} {
		_, err := NewSpeedCurve(c[0], c[1])
		require.ErrorContains(t, err, "below half of their rate")
	}
}

// An hour of wow keeps its peaks when it is thinned to what a page can show.
func TestThinnedSpeedKeepsItsPeaks(t *testing.T) {
	m := Motion{Step: 20}
	for i := range 180_000 {
		m.Speed = append(m.Speed, 0.1*math.Sin(float64(i)))
	}
	m.Speed[90_001] = 3
	for i := 100_000; i < 110_000; i++ {
		m.Speed[i] = math.NaN()
	}
	times, speed := m.thinned()
	require.LessOrEqual(t, len(speed), int(2*wide)+2)
	most, gaps := 0.0, 0
	for i, v := range speed {
		if math.IsNaN(v) {
			gaps++
		}
		if v > most {
			most = v
		}
		if i > 0 {
			require.Greater(t, times[i], times[i-1])
		}
	}
	require.Equal(t, 3.0, most)
	require.Positive(t, gaps)
}

func TestMotionIsToldInFigures(t *testing.T) {
	m := Motion{Speed: []float64{0.1, -0.1}, Step: 20, Figures: &preset.Motion{WowPercent: 0.2, WowHz: 0.9, FlutterPercent: 0.05, FlutterHz: 8.3}}
	words := page(t, m).words()
	require.Contains(t, words, "wow 0.20 % at 0.90 Hz, flutter 0.05 % at 8.30 Hz")
	require.Contains(t, words, "time after the take's beginning")
	m.Through = 250
	require.Contains(t, page(t, m).words(), "250 ms before")
}
