package report

import (
	"math"

	"echowright/preset/compare"
)

// A chart is one or two curves over a scale.
type chart struct {
	A, B   string // paths; A is empty where only a difference is drawn
	Spread string // of B's points, as far as it is known
	X, Y   []tick
	Zero   string // where 0 of the upright scale lies
	Tell   string
}

const (
	top, bottom = 15.0, 205.0 // of a chart
)

// A scale maps values to pixels.
type scale struct{ low, high, start, end float64 }

func (s scale) at(v float64) float64 {
	return s.start + (math.Max(s.low, math.Min(s.high, v))-s.low)/(s.high-s.low)*(s.end-s.start)
}

// drawTone shows by band how much louder B is.
func drawTone(bands []compare.Band) *chart {
	if len(bands) < 2 {
		return nil
	}
	most := 3.0
	for _, b := range bands {
		most = math.Max(most, math.Min(24, math.Abs(float64(b.Delta))+1))
	}
	x := scale{math.Log10(float64(bands[0].Centre)), math.Log10(float64(bands[len(bands)-1].Centre)), left + 10, right - 10}
	y := scale{-most, most, bottom, top}
	c := chart{Tell: "How much louder B is than A in each third of an octave; the figures stand in the table.", Zero: place(y.at(0))}
	for i, b := range bands {
		at, delta := x.at(math.Log10(float64(b.Centre))), float64(b.Delta)
		c.B += step(i) + place(at) + " " + place(y.at(delta))
		sd := 2 * float64(b.DeltaSD)
		c.Spread += "M" + place(at) + " " + place(y.at(delta-sd)) + "L" + place(at) + " " + place(y.at(delta+sd))
	}
	for _, f := range []float64{50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000} {
		if l := math.Log10(f); l >= x.low-0.05 && l <= x.high+0.05 {
			c.X = append(c.X, tick{place(x.at(l)), fixed(f, 0)})
		}
	}
	c.upright(y)
	return &c
}

// drawDrive shows the gain of both machines by the level that goes in.
func drawDrive(s compare.Steps) *chart {
	if len(s.Steps) < 2 {
		return nil
	}
	low, high := -1.0, 1.0
	for _, p := range s.Steps {
		low = math.Min(low, math.Min(float64(p.GainA), float64(p.GainB))-0.5)
		high = math.Max(high, math.Max(float64(p.GainA), float64(p.GainB))+0.5)
	}
	x := scale{float64(s.Steps[0].In), float64(s.Steps[len(s.Steps)-1].In), left + 10, right - 10}
	y := scale{low, high, bottom, top}
	if !(x.high > x.low) {
		return nil
	}
	c := chart{Tell: "The gain of both machines by the level that goes in, less that for soft sounds; the figures stand in the table.", Zero: place(y.at(0))}
	for i, p := range s.Steps {
		at := place(x.at(float64(p.In)))
		c.A += step(i) + at + " " + place(y.at(float64(p.GainA)))
		c.B += step(i) + at + " " + place(y.at(float64(p.GainB)))
	}
	for _, v := range rounds(x.low, x.high, 8) {
		c.X = append(c.X, tick{place(x.at(v)), fixed(v, 0)})
	}
	c.upright(y)
	return &c
}

func (c *chart) upright(y scale) {
	for _, v := range rounds(y.low, y.high, 6) {
		decimals := 0
		if y.high-y.low < 6 {
			decimals = 1
		}
		c.Y = append(c.Y, tick{place(y.at(v)), signed(v, decimals)})
	}
}

func step(i int) string {
	if i == 0 {
		return "M"
	}
	return "L"
}
