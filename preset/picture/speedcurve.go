package picture

import (
	"fmt"
	"math"
	"math/cmplx"

	"echowright/preset"
)

// A SpeedCurve follows the pitch of a steady tone, block by block, finely enough
// to be drawn. The figures of a tone are not its work: it neither weights nor
// leaves out what a meter must.
//
// The tone is turned down to 0 Hz; how far its phase then turns from one window to
// the next is its deviation.
type SpeedCurve struct {
	nominal float64 // Hz
	window  []complex128
	kept    []float64
	last    complex128
	turned  complex128 // sum over a step of the turns from window to window
	windows int
	loudest float64

	hop    int
	each   int // windows to a step
	rate   float64
	values []float64 // turns per window in radians; NaN where there is no tone
	sizes  []float64
}

const (
	periodsAWindow = 6
	stepOfCurve    = 0.02 // s
	noTone         = 0.25 // of the loudest: softer is a gap
)

// NewSpeedCurve is one for a tone of that frequency in samples at that rate.
func NewSpeedCurve(rate, tone preset.Hertz) (*SpeedCurve, error) {
	if !(tone > 0 && rate > 2.1*tone && rate < 1e6) {
		return nil, fmt.Errorf("a tone of %v in samples at %v: it must be below half of their rate", tone, rate)
	}
	c := &SpeedCurve{nominal: float64(tone), rate: float64(rate)}
	// Half a window's step: a tone wrong by a sixth turns half a round in it.
	c.hop = max(1, int(math.Round(periodsAWindow/2*float64(rate/tone))))
	c.each = max(1, int(math.Round(stepOfCurve*float64(rate)/float64(c.hop))))
	c.window = make([]complex128, 2*c.hop)
	for i := range c.window {
		hann := 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(len(c.window)))
		c.window[i] = cmplx.Rect(hann/float64(c.hop), -2*math.Pi*c.nominal/c.rate*float64(i))
	}
	return c, nil
}

// Add takes the next block of samples. Blocks may be of any length, and are not
// kept.
func (c *SpeedCurve) Add(block []float64) {
	c.kept = append(c.kept, block...)
	from := 0
	for ; from+len(c.window) <= len(c.kept); from += c.hop {
		c.look(c.kept[from : from+len(c.window)])
	}
	c.kept = c.kept[:copy(c.kept, c.kept[from:])]
}

func (c *SpeedCurve) look(x []float64) {
	var z complex128
	for i, v := range x {
		if math.Abs(v) < 1e6 { // and not nan
			z += complex(v, 0) * c.window[i]
		}
	}
	// The oscillator of each window begins anew: what it would have turned since the
	// last one is taken off.
	c.turned += z * cmplx.Conj(c.last) * cmplx.Rect(1, -2*math.Pi*c.nominal/c.rate*float64(c.hop))
	c.last = z
	if c.windows++; c.windows%c.each == 0 {
		size := math.Sqrt(cmplx.Abs(c.turned) / float64(c.each))
		c.values, c.sizes = append(c.values, cmplx.Phase(c.turned)), append(c.sizes, size)
		c.loudest = math.Max(c.loudest, size)
		c.turned = 0
	}
}

// Speed is how far the speed lay from its mean in percent, a value every step from
// the first sample on, NaN where there was no tone.
func (c *SpeedCurve) Speed() (percent []float64, step preset.Millis) {
	// The mean frequency is the whole of which deviations are parts.
	perRadian := c.rate / (2 * math.Pi * float64(c.hop))
	mean, n := 0.0, 0.0
	for i, v := range c.values {
		if c.there(i) {
			mean, n = mean+v, n+1
		}
	}
	if n == 0 {
		return nil, 0
	}
	mean /= n
	percent = make([]float64, len(c.values))
	for i, v := range c.values {
		percent[i] = math.NaN()
		if c.there(i) {
			percent[i] = 100 * (v - mean) * perRadian / (c.nominal + mean*perRadian)
		}
	}
	return percent, preset.SamplesToMillis(float64(c.each*c.hop), preset.Hertz(c.rate))
}

// there says whether the tone sounds in the i-th step and beside it: where it
// begins or ends the phase jumps.
func (c *SpeedCurve) there(i int) bool {
	for k := max(0, i-1); k <= min(len(c.sizes)-1, i+1); k++ {
		if !(c.sizes[k] > noTone*c.loudest) {
			return false
		}
	}
	return i > 0 && i+1 < len(c.sizes) && c.loudest > 0
}
