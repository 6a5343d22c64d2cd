package render

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// driven is a node with drive and nothing else, its latency taken off.
func driven(d preset.Drive) Graph {
	return Graph{Nodes: []Node{{From: []Path{{From: Input, Gain: 1}}, Drive: &d}}, Heard: []Path{{From: 0, Gain: 1}}}
}

func TestTheTableIsTheFormulaOfDrive(t *testing.T) {
	for _, d := range []preset.Drive{{}, {Gain: 12, Bias: 0.3}, {Gain: 40, Bias: -1}, {Gain: -20, Bias: 0.5}} {
		c, k, b := newCurve(d), d.Gain.Amplitude(), math.Tanh(d.Bias)
		for x := -3.0; x <= 3; x += 0.00737 {
			y := []float64{x}
			c.bend(y)
			want := (math.Tanh(k*x+d.Bias) - b) / (k * (1 - b*b))
			require.InDelta(t, want, y[0], 1e-8/(k*(1-b*b)), "%+v at %v", d, x)
		}
	}
	y := []float64{1e300, -1e300}
	newCurve(preset.Drive{Gain: 60}).bend(y)
	require.InDelta(t, 1e-3, y[0], 1e-9)
	require.InDelta(t, -1e-3, y[1], 1e-9)
}

// The harmonics of tanh(sin) : H1 0.811676, H3/H1 6.6832 %
// (Fourier coefficients of tanh(A·sin), A = 1); for A = 2 1.117942 and 16.8830 %.
// The ripple of the filters may take or add a few 10⁻⁵.
func TestHarmonicsOfASineAreThoseOfTanh(t *testing.T) {
	for _, c := range []struct{ amplitude, first, third float64 }{{1, 0.811676, 0.066832}, {2, 1.117942, 0.168830}} {
		x := sineWave(9600, 2*math.Pi*1000/rate, 0)
		for i := range x {
			x[i] *= c.amplitude
		}
		y := rendered(t, driven(preset.Drive{}), Options{}, x)[4800:]
		first, third := partial(y, 1000), partial(y, 3000)
		require.InDelta(t, c.first, first, 4e-5)
		require.InDelta(t, c.third, third/first, 3e-5)
		require.InDelta(t, 0, partial(y, 2000)/first, 1e-6, "a curve without bias makes odd harmonics alone")
	}
	y := rendered(t, driven(preset.Drive{Gain: 6, Bias: 0.4}), Options{}, sineWave(9600, 2*math.Pi*1000/rate, 0))[4800:]
	require.Greater(t, partial(y, 2000)/partial(y, 1000), 0.05, "with bias even ones too")
}

// partial is the amplitude of a frequency that fits into y, which is 0.1 s long, a
// whole number of times.
func partial(y []float64, hz float64) float64 {
	var c, s float64
	for i, v := range y {
		sin, cos := math.Sincos(2 * math.Pi * hz * float64(i) / rate)
		c += v * cos
		s += v * sin
	}
	return 2 * math.Hypot(c, s) / float64(len(y))
}

// What lies beside the harmonics of a tone at full scale is alias: below −80 dB to
// the tone, the project asks. The tones are multiples of 10 Hz that divide no
// multiple of the rate, so that aliases fall between the harmonics.
func TestAliasesLieBelow80dB(t *testing.T) {
	for _, c := range []struct {
		gain preset.Decibels
		bias float64
		hz   float64
	}{{0, 0, 9970}, {6, 0.3, 7010}, {12, 0.2, 4990}, {12, 0, 997 * 10}, {18, 0.5, 3310}} {
		y := rendered(t, driven(preset.Drive{Gain: c.gain, Bias: c.bias}), Options{}, sineWave(9600, 2*math.Pi*c.hz/rate, 0))[4800:]
		worst, where := 0.0, 0.0
		for hz := 10.0; hz <= 0.4*rate; hz += 10 {
			if math.Mod(hz, c.hz) != 0 {
				if a := partial(y, hz); a > worst {
					worst, where = a, hz
				}
			}
		}
		ratio := 20 * math.Log10(worst/partial(y, c.hz))
		t.Logf("%v, bias %v, %v Hz: %.1f dB at %v Hz", c.gain, c.bias, c.hz, ratio, where)
		require.Less(t, ratio, -80.0)
	}
}

// A soft sound passes a drive as it came: the filters on its way up and down are
// flat, and the delay they cost is known to the sample.
func TestASoftSoundPassesAsItCame(t *testing.T) {
	for _, f := range []float64{0.002, 0.1, 0.25, 0.35, 0.4} {
		turn := 2 * math.Pi * f
		x := sineWave(2000, turn, 0)
		for i := range x {
			x[i] *= 1e-4
		}
		y := rendered(t, driven(preset.Drive{Gain: 6}), Options{}, x)
		for i := 400; i < 1900; i++ {
			require.InDelta(t, x[i], y[i], 1e-4*1e-4, "%v of the rate", f) // −80 dB: three filters up, three down
		}
	}
}

// In a loop every turn is bent again. By hand: a constant of 0.5, held for as long
// as the loop is, comes back as curve(0.5), then curve(0.5·curve(0.5)).
func TestEveryTurnIsBentAgain(t *testing.T) {
	d := preset.Drive{Gain: 6}
	half := preset.FromAmplitude(0.5)
	g := Machine{Drive: &d, Pattern: preset.Pattern{
		Taps:    []preset.Tap{{Delay: samples(2000)}},
		Returns: []preset.Return{{Delay: samples(2000), Gain: half}},
	}}.Graph()
	x := make([]float64, 6500)
	for i := range 2000 {
		x[i] = 0.5
	}
	y := rendered(t, g, Options{}, x)
	k := d.Gain.Amplitude()
	once := math.Tanh(k*0.5) / k
	twice := math.Tanh(k*0.5*once) / k
	require.InDelta(t, once, y[3000], 1e-4)
	require.InDelta(t, twice, y[5000], 1e-4)
}
