package picture

import (
	"encoding/xml"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// canvas collects the text of an SVG drawing.
type canvas struct{ text strings.Builder }

// element writes an empty element. Attributes come in pairs of a name and a
// value: a string, which is escaped, or a number.
func (c *canvas) element(tag string, attributes ...any) {
	c.start(tag, attributes)
	c.text.WriteString("/>\n")
}

// words writes a text element.
func (c *canvas) words(what string, attributes ...any) {
	c.start("text", attributes)
	c.text.WriteByte('>')
	c.escape(what)
	c.text.WriteString("</text>\n")
}

// group writes the elements that draw makes inside one of their own.
func (c *canvas) group(draw func(), attributes ...any) {
	c.start("g", attributes)
	c.text.WriteString(">\n")
	draw()
	c.text.WriteString("</g>\n")
}

// hint is what a browser shows when the pointer rests on the group it is in.
func (c *canvas) hint(what string) {
	c.text.WriteString("<title>")
	c.escape(what)
	c.text.WriteString("</title>\n")
}

func (c *canvas) start(tag string, attributes []any) {
	c.text.WriteByte('<')
	c.text.WriteString(tag)
	for i := 0; i+1 < len(attributes); i += 2 {
		fmt.Fprintf(&c.text, ` %s="`, attributes[i])
		switch v := attributes[i+1].(type) {
		case float64:
			c.text.WriteString(number(v))
		default:
			c.escape(fmt.Sprint(v))
		}
		c.text.WriteByte('"')
	}
}

// escape also replaces what no XML may hold, such as control characters.
func (c *canvas) escape(s string) {
	_ = xml.EscapeText(&c.text, []byte(s)) // a strings.Builder never fails
}

// number writes a length in hundredths of a pixel; what is no number becomes 0.
func number(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		v = 0
	}
	return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64)
}
