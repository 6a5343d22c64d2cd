package picture

import (
	"fmt"

	"echowright/preset"
)

// Levels shows each echo of a take as a stem on a scale in dB, 0 dB being the
// direct sound, with bars for what is uncertain: twice the standard deviation
// each way, which holds the truth 19 times in 20.
type Levels struct{ Take Take }

func (Levels) height() float64 { return 260 }

func (l Levels) draw(c *canvas, top float64) {
	from, to := l.Take.Span()
	a := timeAxis(c, "The echoes: filled is a head's first echo, hollow a repeat; bars show what is uncertain",
		from, to, top, l.height())
	loudest := preset.Decibels(0)
	for _, m := range l.Take.Marks {
		loudest = max(loudest, m.Level)
	}
	db := levelAxis(c, preset.Decibels(seen(loudest)), top, l.height())
	c.element("line", "class", "direct", "x1", a.at(0), "x2", a.at(0), "y1", db.at(0), "y2", top+l.height())
	c.words("note", "class", "small", "x", a.at(0)+4, "y", top+l.height()-6)
	lines := labelLines(l.Take.Marks, a, 58)
	for i, m := range l.Take.Marks {
		if float64(m.Level) >= db.low {
			stem(c, m, a, db, lines[i])
		}
	}
	figures(c, l.Take.Marks, top)
}

// figures lists the first echoes at the upper right, where echoes are seldom.
func figures(c *canvas, marks []Mark, top float64) {
	line := 0.0
	for _, m := range marks {
		if m.Turn == 0 {
			line++
			c.words(fmt.Sprintf("head %d: %s", m.Head, m.figures()), "class", "figure", "text-anchor", "end",
				"x", rightEdge-10, "y", top+6+17*line)
		}
	}
}

// stem draws one echo: stem, bars for both uncertainties, dot, name.
func stem(c *canvas, m Mark, a, db axis, line int) {
	x, y := a.at(float64(m.At)), db.inside(seen(m.Level))
	c.group(func() {
		c.hint(m.tell())
		c.element("line", "x1", x, "x2", x, "y1", y, "y2", db.start, "stroke-width", 1.0)
		errorBars(c, m, a, db)
		c.element("circle", "cx", x, "cy", y, "r", 4.0)
		if m.Turn == 0 {
			// Beside the dot: above it there may be no room. Neighbours go further down.
			c.words(fmt.Sprintf("head %d", m.Head), "x", x+8, "y", min(y+4+15*float64(line), db.start-4), "stroke", "none")
		}
	}, "class", class(m)+" echo", "data-ms", float64(m.At), "data-db", float64(m.Level))
}

func errorBars(c *canvas, m Mark, a, db axis) {
	x, y := a.at(float64(m.At)), db.inside(seen(m.Level))
	if m.LevelSD > 0 {
		low, high := db.inside(seen(m.Level-2*m.LevelSD)), db.inside(seen(m.Level+2*m.LevelSD))
		c.element("path", "class", "bar", "fill", "none", "d", fmt.Sprintf("M%s %sh8m-4 0V%sm-4 0h8",
			number(x-4), number(low), number(high)))
	}
	if m.SD > 0 {
		early, late := a.inside(float64(m.At-2*m.SD)), a.inside(float64(m.At+2*m.SD))
		c.element("path", "class", "bar", "fill", "none", "d", fmt.Sprintf("M%s %sv8m0 -4H%sm0 -4v8",
			number(early), number(y-4), number(late)))
	}
}
