package picture

import (
	"fmt"
	"math"

	"echowright/preset"
)

// Comparison shows the echoes wanted as broad pale bars and those got as narrow
// bars in front of them. What is wanted and not got is a dashed outline, what is
// got unasked a bar of its own colour.
type Comparison struct {
	Echoes []Pair // sorted by time wanted
	Extra  []Single
}

// A Pair is an echo wanted and what was got in its place, nil where nothing was.
type Pair struct {
	Wanted Single
	Got    *Single
}

// A Single is one echo.
type Single struct {
	At    preset.Millis
	Level preset.Decibels
}

func (Comparison) height() float64 { return 260 }

func (p Comparison) draw(c *canvas, top float64) {
	last, loudest := p.reach()
	a := timeAxis(c, "Wanted (broad, pale) and got (narrow); dashed: not to be had", -leadIn*last, last*(1+leadOut), top, p.height())
	db := levelAxis(c, loudest, top, p.height())
	for _, e := range p.Echoes {
		c.group(func() {
			c.hint(e.tell())
			p.pair(c, e, a, db)
		}, "class", "pair", "data-ms", float64(e.Wanted.At))
	}
	for _, e := range p.Extra {
		bar(c, "extra", e, 4, a, db)
	}
}

func (p Comparison) reach() (last preset.Millis, loudest preset.Decibels) {
	last, loudest = 1, preset.Decibels(math.Inf(-1))
	see := func(s Single) { last, loudest = max(last, s.At), max(loudest, s.Level) }
	for _, e := range p.Echoes {
		see(e.Wanted)
		if e.Got != nil {
			see(*e.Got)
		}
	}
	for _, e := range p.Extra {
		see(e)
	}
	if math.IsInf(float64(loudest), -1) {
		loudest = 0
	}
	return last, preset.Decibels(seen(loudest))
}

func (p Comparison) pair(c *canvas, e Pair, a, db axis) {
	if e.Got == nil {
		bar(c, "missing", e.Wanted, 10, a, db)
		return
	}
	bar(c, "wanted", e.Wanted, 10, a, db)
	bar(c, "got", *e.Got, 3, a, db)
}

// bar stands on the bottom of the scale; what lies below it is not drawn.
func bar(c *canvas, class string, e Single, width float64, a, db axis) {
	if float64(e.Level) < db.low {
		return
	}
	x, y := a.inside(float64(e.At)), db.inside(seen(e.Level))
	c.element("rect", "class", class, "x", x-width/2, "y", y, "width", width, "height", db.start-y)
}

func (e Pair) tell() string {
	wanted := fmt.Sprintf("wanted %.2f ms, %.1f dB", e.Wanted.At, e.Wanted.Level)
	if e.Got == nil {
		return wanted + "; not to be had"
	}
	return fmt.Sprintf("%s; got %.2f ms, %.1f dB", wanted, e.Got.At, e.Got.Level)
}
