package render

import (
	"math"

	"echowright/preset"
)

// A curve is [preset.Drive] as a table: its values and slopes at even spacing of
// z = k·x + b, with cubics between. The tanh's own error is below 10⁻⁹ of what it
// gives; beyond the table it is flat.
type curve struct {
	k, bias      float64
	value, slope []float64
}

const (
	curveEnd  = 12. // tanh is 1 but for 10⁻¹⁰ there
	curveStep = 1. / 64
)

func newCurve(d preset.Drive) *curve {
	c := &curve{k: d.Gain.Amplitude(), bias: d.Bias}
	offset := math.Tanh(c.bias)
	scale := 1 / (c.k * (1 - offset*offset))
	for z := -curveEnd; z <= curveEnd+curveStep; z += curveStep {
		t := math.Tanh(z)
		c.value = append(c.value, (t-offset)*scale)
		c.slope = append(c.slope, (1-t*t)*scale*curveStep)
	}
	return c
}

// bend is the curve for a block.
func (c *curve) bend(x []float64) {
	last := float64(len(c.value) - 2)
	for i, v := range x {
		z := (c.k*v + c.bias + curveEnd) / curveStep
		if !(z > 0) {
			z = 0
		} else if z > last {
			z = last
		}
		n := int(z)
		u := z - float64(n)
		a, b := c.value[n], c.value[n+1]
		rise := b - a
		x[i] = a + u*rise + u*(1-u)*((c.slope[n]-rise)*(1-u)+(rise-c.slope[n+1])*u)
	}
}

// A drive bends sound at eight times its rate: the harmonics that the curve makes
// have room there, and what lies above the band is filtered out on the way back.
type drive struct {
	curve *curve
	up    [len(doublings)]doubler
	down  [len(doublings)]halver
}

// doublings are the filters of the three doublings of the rate. The first has to
// keep 0.4 of the rate from 0.6; what the later ones keep apart lies further apart,
// so that they need fewer pairs.
var doublings = [...]struct {
	pairs int
	beta  float64
}{{halfPairs, halfBeta}, {6, 11}, {4, 9.5}}

// driveLatency is the samples that the sound takes on its way up and down: the pairs
// of each filter, twice, at the rate that it works at.
const driveLatency = 2*halfPairs + 2*6/2 + 2*4/4

func newDrive(c *curve) *drive {
	d := &drive{curve: c}
	for i, f := range doublings {
		d.up[i], d.down[i] = newDoubler(f.pairs, f.beta), newHalver(f.pairs, f.beta)
	}
	return d
}

// process bends a block, driveLatency samples late.
func (d *drive) process(x []float64) {
	y := x
	for i := range d.up {
		y = d.up[i].process(y)
	}
	d.curve.bend(y)
	for i := len(d.down) - 1; i > 0; i-- {
		y = d.down[i].process(y)
	}
	copy(x, d.down[0].process(y))
}
