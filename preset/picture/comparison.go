package picture

import (
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

func (p Comparison) draw(s *sheet) {
	s.heading("Echoes wanted, and echoes that the device makes")
	s.legend([]entry{
		{"wanted", stroked(pale, 10, whole)}, {"got", stroked(bright, 4, whole)},
		{"wanted, not to be had", stroked(bright, 1.5, dotted)}, {"got unasked", stroked(amber, 4, whole)},
	})
	last, loudest := p.reach()
	x, at := clock("the note", -leadIn*last, last*(1+leadOut))
	f := s.frame(230, x, levelScale("level in dB", loudest, loudest-60))
	for _, e := range p.Echoes {
		s.group(group{class: "pair", hint: e.tell(), data: []datum{{"ms", float64(e.Wanted.At)}}}, func() { f.pair(e, at) })
	}
	for _, e := range p.Extra {
		f.bar("extra", amber, e, 4, at)
	}
	s.caption("Each bar is an echo: the further right, the later; the higher, the louder. Where broad and narrow bar end at one height " +
		"in one place, the device does what was asked of it.")
}

func (p Comparison) reach() (last preset.Millis, loudest float64) {
	last, loudest = 1, math.Inf(-1)
	see := func(e Single) { last, loudest = max(last, e.At), math.Max(loudest, seen(e.Level)) }
	for _, e := range p.Echoes {
		see(e.Wanted)
		if e.Got != nil {
			see(*e.Got)
		}
	}
	for _, e := range p.Extra {
		see(e)
	}
	if math.IsInf(loudest, -1) {
		loudest = 0
	}
	return last, loudest
}

func (f frame) pair(e Pair, at func(preset.Millis) float64) {
	if e.Got == nil {
		f.outlined(e.Wanted, 10, at)
		return
	}
	f.bar("wanted", pale, e.Wanted, 10, at)
	f.bar("got", bright, *e.Got, 4, at)
}

// bar stands on the bottom of the scale; what lies below it is not drawn.
func (f frame) bar(class string, i ink, e Single, width float64, at func(preset.Millis) float64) {
	if left, y, ok := f.corner(e, width, at); ok {
		f.s.group(group{class: class}, func() { f.s.area(i, rectangle(left, y, width, f.bottom-y)) })
	}
}

func (f frame) outlined(e Single, width float64, at func(preset.Millis) float64) {
	if left, y, ok := f.corner(e, width, at); ok {
		f.s.group(group{class: "missing"}, func() {
			f.s.line(bright, 1.5, dotted, point{left, f.bottom}, point{left, y}, point{left + width, y}, point{left + width, f.bottom})
		})
	}
}

func (f frame) corner(e Single, width float64, at func(preset.Millis) float64) (left, top float64, ok bool) {
	return f.x.inside(at(e.At)) - width/2, f.y.inside(seen(e.Level)), float64(e.Level) >= f.y.low
}

func (e Pair) tell() string {
	wanted := "wanted " + e.Wanted.tell()
	if e.Got == nil {
		return wanted + "; not to be had"
	}
	return wanted + "; got " + e.Got.tell()
}

func (e Single) tell() string {
	return fixed(float64(e.At), 2) + " ms, " + fixed(float64(e.Level), 1) + " dB"
}
