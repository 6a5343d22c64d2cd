package picture

import "slices"

// A sheet is a page while it is drawn, from above downwards.
type sheet struct {
	writer writer
	shapes []shape
	y      float64 // where the next thing begins
}

func (s *sheet) add(all ...shape) { s.shapes = append(s.shapes, all...) }

func (s *sheet) onto(c canvas) {
	for _, one := range s.shapes {
		one.onto(c)
	}
}

// group makes one group of the shapes that draw adds.
func (s *sheet) group(g group, draw func()) {
	before := len(s.shapes)
	draw()
	g.parts = slices.Clone(s.shapes[before:])
	s.shapes = append(s.shapes[:before], g)
}

func (s *sheet) panel(p Panel) {
	s.group(group{class: "panel"}, func() { p.draw(s) })
}

// text writes in black unless another ink is named.
func (s *sheet) text(t text) {
	if t.ink == paper {
		t.ink = black
	}
	s.add(t)
}

func (s *sheet) line(i ink, width float64, d dash, points ...point) {
	s.add(line{ink: i, width: width, dash: d, points: points})
}

func (s *sheet) heading(words string) {
	s.y += 20
	s.text(text{at: point{leftEdge, s.y}, words: words, face: strong})
	s.y += 8
}

// caption says under a panel how it is read.
func (s *sheet) caption(words string) {
	for _, part := range s.writer.lines(words, plain, wide) {
		s.y += 17
		s.text(text{at: point{leftEdge, s.y}, words: part, face: plain, ink: grey})
	}
	s.y += 8
}

// An entry of a legend is words after a sample of what they mean.
type entry struct {
	words  string
	sample func(at point) []shape // about 22 pixels wide
}

const (
	sampleWidth = 28.0
	lineHeight  = 18.0
)

// legend sets the entries beside each other in columns as wide as the widest.
func (s *sheet) legend(all []entry) {
	if len(all) == 0 {
		return
	}
	column := 0.0
	for _, e := range all {
		column = max(column, sampleWidth+s.writer.width(e.words, small)+18)
	}
	columns := max(1, min(len(all), int(wide/column)))
	for i, e := range all {
		if i%columns == 0 {
			s.y += lineHeight
		}
		at := point{leftEdge + float64(i%columns)*column, s.y}
		s.group(group{class: "entry"}, func() {
			s.add(e.sample(point{at.x + 11, at.y - 4})...)
			s.text(text{at: point{at.x + sampleWidth, at.y}, words: e.words, face: small})
		})
	}
	s.y += 6
}

// stroked is the sample of a line.
func stroked(i ink, width float64, d dash) func(point) []shape {
	return func(at point) []shape {
		return []shape{line{ink: i, width: width, dash: d, points: []point{{at.x - 11, at.y}, {at.x + 11, at.y}}}}
	}
}

// signed is the sample of a mark.
func signed(i int, hollow bool) func(point) []shape {
	return func(at point) []shape { return []shape{sign(at, i, hollow)} }
}
