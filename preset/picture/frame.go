package picture

import "math"

// A frame is the ground of a drawing: a rectangle with a scale at two sides.
type frame struct {
	s           *sheet
	x, y        axis
	top, bottom float64
}

// frame draws one of that height where the sheet is, and goes below it.
func (s *sheet) frame(height float64, x, y scale) frame {
	s.upwards(y)
	return s.ground(height, x, y)
}

// ground is frame without the name of the upright scale.
func (s *sheet) ground(height float64, x, y scale) frame {
	f := frame{s: s, top: s.y, bottom: s.y + height}
	f.x = axis{low: x.low, high: x.high, log: x.log, start: leftEdge, end: rightEdge}
	f.y = axis{low: y.low, high: y.high, log: y.log, start: f.bottom, end: f.top}
	f.ruled(x, y)
	f.s.group(group{class: "frame-of-panel"}, func() {
		corners := rectangle(leftEdge, f.top, wide, height)
		s.line(frameline, 1, whole, append(corners, corners[0])...)
	})
	s.y = f.bottom + 34
	s.text(text{at: point{(leftEdge + rightEdge) / 2, s.y}, words: x.name + " →", face: small, ink: grey, anchor: middle})
	s.y += 2
	return f
}

// upwards writes above a frame what its upright scale counts.
func (s *sheet) upwards(y scale) {
	s.y += 15
	s.text(text{at: point{leftEdge, s.y}, words: "↑ " + y.name, face: small, ink: grey})
	s.y += 7
}

func (f frame) ruled(x, y scale) {
	free := math.Inf(-1) // of numbers, from here to the right
	for _, v := range x.ticks {
		at := f.x.at(v)
		f.upright(v, gridline, 1, whole)
		half := f.s.writer.width(x.label(v), small) / 2
		if at-half < free {
			continue
		}
		free = at + half + 6
		f.s.group(group{class: "tick-x", data: []datum{{"value", v}}}, func() {
			f.s.text(text{at: point{at, f.bottom + 17}, words: x.label(v), face: small, ink: grey, anchor: middle})
		})
	}
	for _, v := range y.ticks {
		f.level(v, gridline, 1, whole)
		f.s.group(group{class: "tick-y", data: []datum{{"value", v}}}, func() {
			f.s.text(text{at: point{leftEdge - 7, f.y.at(v) + 4}, words: y.label(v), face: small, ink: grey, anchor: ends})
		})
	}
}

// upright draws a line over the whole height.
func (f frame) upright(x float64, i ink, width float64, d dash) {
	if f.x.holds(x) {
		f.s.line(i, width, d, point{f.x.at(x), f.top}, point{f.x.at(x), f.bottom})
	}
}

// level draws a line over the whole width.
func (f frame) level(y float64, i ink, width float64, d dash) {
	if f.y.holds(y) {
		f.s.line(i, width, d, point{leftEdge, f.y.at(y)}, point{rightEdge, f.y.at(y)})
	}
}

// curve draws a line through values. Where one is no number there is a gap; what
// lies off the scale runs along its end.
func (f frame) curve(class string, x, y []float64, i ink, width float64, d dash) {
	f.s.group(group{class: "curve " + class}, func() {
		var run []point
		flush := func() {
			if len(run) == 1 { // a single value between two gaps is a dot
				run = append(run, point{run[0].x + width, run[0].y})
			}
			if len(run) > 1 {
				f.s.line(i, width, d, run...)
			}
			run = nil
		}
		for k, v := range y {
			if math.IsNaN(v) || !f.x.holds(x[k]) {
				flush()
				continue
			}
			run = append(run, point{f.x.at(x[k]), f.y.inside(v)})
		}
		flush()
	})
}
