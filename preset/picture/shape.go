package picture

// A point on a page, in pixels from its upper left corner.
type point struct{ x, y float64 }

// A canvas is what shapes are drawn on.
type canvas interface {
	line(line)
	area(area)
	text(text)
	open(group)
	close()
}

// A shape can be drawn.
type shape interface{ onto(canvas) }

// A line goes through its points.
type line struct {
	ink    ink
	width  float64
	dash   dash
	points []point
}

// An area lies within its points. It is filled with its ink, or, if hollow, with
// the paper's and outlined in its ink.
type area struct {
	ink    ink
	hollow bool
	points []point
}

// A text begins, ends or has its middle at a point of its base line.
type text struct {
	at     point
	words  string
	face   face
	ink    ink
	anchor anchor
}

type anchor float64

// Where the point of a text lies, in parts of its width.
const (
	begins anchor = 0
	middle anchor = 0.5
	ends   anchor = 1
)

// A group is shapes that belong together: an echo, a curve.
type group struct {
	class string
	hint  string // what a browser shows when the pointer rests on it
	data  []datum
	parts []shape
}

// A datum is a figure kept with a group for those who read the drawing by program.
type datum struct {
	name  string
	value float64
}

func (l line) onto(c canvas) { c.line(l) }
func (a area) onto(c canvas) { c.area(a) }
func (t text) onto(c canvas) { c.text(t) }

func (g group) onto(c canvas) {
	c.open(g)
	for _, s := range g.parts {
		s.onto(c)
	}
	c.close()
}

func rectangle(x, y, width, height float64) []point {
	return []point{{x, y}, {x + width, y}, {x + width, y + height}, {x, y + height}}
}
