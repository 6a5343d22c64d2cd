package picture

import (
	"encoding/xml"
	"fmt"
	"image/color"
	"math"
	"strconv"
	"strings"
)

// svg is the canvas that is a file's text.
type svg struct{ out strings.Builder }

// begin writes what comes before the shapes.
func (s *svg) begin(title string, width, height float64) {
	s.out.WriteString(`<?xml version="1.0" encoding="UTF-8"?>` + "\n")
	s.tag("svg", "xmlns", "http://www.w3.org/2000/svg", "viewBox", "0 0 "+number(width)+" "+number(height),
		"width", width, "height", height, "role", "img")
	s.out.WriteString(">\n")
	s.hint(title)
	s.out.WriteString("<style>" + style() + "</style>\n")
	s.element("rect", "class", "ground", "width", width, "height", height)
}

func (s *svg) end() { s.out.WriteString("</svg>\n") }

// style has the faces, and the inks by day and by night.
func style() string {
	var css strings.Builder
	css.WriteString("\ntext{font-family:" + fontFamily + ";stroke:none}\npath,line{fill:none}\n")
	for _, f := range faces {
		weight := "400"
		if f.bold {
			weight = "700"
		}
		fmt.Fprintf(&css, ".%s{font-size:%spx;font-weight:%s}\n", f.class, number(f.size), weight)
	}
	colour := func(pick func(colours) color.RGBA) {
		fmt.Fprintf(&css, ".ground,.hollow{fill:%s}\n", hex(pick(inks[paper])))
		for _, i := range inks {
			fmt.Fprintf(&css, ".%s{stroke:%[2]s}.%[1]s-fill{fill:%[2]s}\n", i.class, hex(pick(i)))
		}
	}
	colour(func(c colours) color.RGBA { return c.day })
	css.WriteString("@media (prefers-color-scheme:dark){\n")
	colour(func(c colours) color.RGBA { return c.night })
	css.WriteString("}\n")
	return css.String()
}

func hex(c color.RGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

func (s *svg) line(l line) {
	attributes := []any{"class", inks[l.ink].class, "stroke-width", l.width}
	if l.dash != whole {
		attributes = append(attributes, "stroke-dasharray", string(l.dash))
	}
	if len(l.points) == 2 {
		a, b := l.points[0], l.points[1]
		s.element("line", append(attributes, "x1", a.x, "y1", a.y, "x2", b.x, "y2", b.y)...)
		return
	}
	s.element("path", append(attributes, "d", outline(l.points))...)
}

func (s *svg) area(a area) {
	class := inks[a.ink].class + "-fill"
	if a.hollow {
		class = inks[a.ink].class + " hollow"
	}
	s.element("path", "class", class, "d", outline(a.points)+"Z")
}

func (s *svg) text(t text) {
	attributes := []any{"class", faces[t.face].class + " " + inks[t.ink].class + "-fill", "x", t.at.x, "y", t.at.y}
	switch t.anchor {
	case middle:
		attributes = append(attributes, "text-anchor", "middle")
	case ends:
		attributes = append(attributes, "text-anchor", "end")
	}
	s.tag("text", attributes...)
	s.out.WriteByte('>')
	s.escape(t.words)
	s.out.WriteString("</text>\n")
}

func (s *svg) open(g group) {
	attributes := []any{"class", g.class}
	for _, d := range g.data {
		attributes = append(attributes, "data-"+d.name, d.value)
	}
	s.tag("g", attributes...)
	s.out.WriteString(">\n")
	if g.hint != "" {
		s.hint(g.hint)
	}
}

func (s *svg) close() { s.out.WriteString("</g>\n") }

func (s *svg) hint(words string) {
	s.out.WriteString("<title>")
	s.escape(words)
	s.out.WriteString("</title>\n")
}

func (s *svg) element(name string, attributes ...any) {
	s.tag(name, attributes...)
	s.out.WriteString("/>\n")
}

// tag writes a tag up to its end. Attributes come in pairs of a name and a value:
// a string, which is escaped, or a number.
func (s *svg) tag(name string, attributes ...any) {
	s.out.WriteString("<" + name)
	for i := 0; i+1 < len(attributes); i += 2 {
		fmt.Fprintf(&s.out, ` %s="`, attributes[i])
		switch v := attributes[i+1].(type) {
		case float64:
			s.out.WriteString(number(v))
		default:
			s.escape(fmt.Sprint(v))
		}
		s.out.WriteByte('"')
	}
}

// escape also replaces what no XML may hold, such as control characters.
func (s *svg) escape(words string) {
	_ = xml.EscapeText(&s.out, []byte(words)) // a strings.Builder never fails
}

func outline(points []point) string {
	var path strings.Builder
	for i, p := range points {
		command := byte('L')
		if i == 0 {
			command = 'M'
		}
		path.WriteByte(command)
		path.WriteString(number(p.x))
		path.WriteByte(' ')
		path.WriteString(number(p.y))
	}
	return path.String()
}

// number writes a length in hundredths of a pixel; what is no number becomes 0.
func number(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		v = 0
	}
	return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64)
}
