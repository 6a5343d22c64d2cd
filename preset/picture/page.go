package picture

import "echowright/preset"

// The measures of a page, in pixels.
const (
	pageWidth  = 960.0
	leftEdge   = 64.0
	rightEdge  = pageWidth - 24
	titleSpace = 40.0
	panelSpace = 56.0 // below a panel: numbers and name of the time axis
	headSpace  = 28.0 // above a panel: what it shows
)

// A Panel is one drawing of a page: a [Waveform], [Levels] or a [Comparison].
type Panel interface {
	height() float64
	draw(c *canvas, top float64)
}

// SVG is the page as a file's text. It shows on light and on dark grounds.
func SVG(title string, panels ...Panel) []byte {
	height := titleSpace
	for _, p := range panels {
		height += headSpace + p.height() + panelSpace
	}
	c := &canvas{}
	c.text.WriteString(`<?xml version="1.0" encoding="UTF-8"?>` + "\n")
	c.start("svg", []any{
		"xmlns", "http://www.w3.org/2000/svg", "viewBox", "0 0 " + number(pageWidth) + " " + number(height),
		"width", pageWidth, "height", height, "role", "img",
	})
	c.text.WriteString(">\n")
	c.hint(title)
	c.text.WriteString("<style>" + style + "</style>\n")
	c.element("rect", "class", "paper", "width", pageWidth, "height", height)
	c.words(title, "class", "title", "x", leftEdge, "y", 27.0)
	top := titleSpace
	for _, p := range panels {
		p.draw(c, top+headSpace)
		top += headSpace + p.height() + panelSpace
	}
	c.text.WriteString("</svg>\n")
	return []byte(c.text.String())
}

// style keeps ink and paper apart by day and by night.
const style = `
text{font:13px system-ui,sans-serif;fill:#222}
.title{font-size:17px;font-weight:600}
.name{font-weight:600}
.small{font-size:11px;fill:#555}
.paper{fill:#fff}
.grid{stroke:#ddd}
.frame{stroke:#888;fill:none}
.sound{fill:#7a8ca3}
.first{stroke:#b3361b;fill:#b3361b}
.repeat{stroke:#b3361b;fill:#fff;opacity:.75}
.direct{stroke:#222;stroke-dasharray:3 3}
.wanted{fill:#9db7d5}
.got{fill:#b3361b}
.extra{fill:#a8790a}
.missing{stroke:#b3361b;fill:none;stroke-dasharray:2 2}
@media (prefers-color-scheme:dark){
text{fill:#e8e8e8}.small{fill:#aaa}.paper{fill:#17191d}.grid{stroke:#33373d}.frame{stroke:#777}
.sound{fill:#6f86a5}.first{stroke:#ff8a66;fill:#ff8a66}.repeat{stroke:#ff8a66;fill:#17191d}.direct{stroke:#ddd}
.wanted{fill:#41618a}.got{fill:#ff8a66}.extra{fill:#e0b23c}.missing{stroke:#ff8a66}
}
`

// timeAxis is the ground of a panel: frame, times in ms below, and what is shown
// above.
func timeAxis(c *canvas, what string, from, to preset.Millis, top, height float64) axis {
	a := axis{low: float64(from), high: float64(to), start: leftEdge, end: rightEdge}
	bottom := top + height
	c.words(what, "class", "name", "x", leftEdge, "y", top-9)
	for _, ms := range a.ticks(12) {
		c.element("line", "class", "grid", "x1", a.at(ms), "x2", a.at(ms), "y1", top, "y2", bottom)
		c.words(label(ms), "class", "small tick", "text-anchor", "middle", "x", a.at(ms), "y", bottom+16)
	}
	c.words("time after the note, in milliseconds", "class", "small", "text-anchor", "middle",
		"x", (leftEdge+rightEdge)/2, "y", bottom+34)
	c.element("rect", "class", "frame", "x", leftEdge, "y", top, "width", rightEdge-leftEdge, "height", height)
	return a
}

// levelAxis is a scale in dB at the left, its top the round value above loudest
// or, so that a hair above does not cost a tenth of the height, just below it.
func levelAxis(c *canvas, loudest preset.Decibels, top, height float64) axis {
	const depth = 60
	high := 6 * ceil((float64(loudest)-0.5)/6)
	a := axis{low: high - depth, high: high, start: top + height, end: top}
	for db := high; db >= a.low; db -= 12 {
		c.element("line", "class", "grid", "x1", leftEdge, "x2", rightEdge, "y1", a.at(db), "y2", a.at(db))
		c.words(label(db)+" dB", "class", "small", "text-anchor", "end", "x", leftEdge-6, "y", a.at(db)+4)
	}
	return a
}
