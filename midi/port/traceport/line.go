package traceport

import "strings"

const hexDigits = "0123456789ABCDEF"

// A line is the one that is being written: to it belong a way and a time, and
// bytes are added as they pass.
type line struct {
	open bool
	way  *cutter
}

// bytes writes what went one way at one time. The text is gathered, so that one
// event is one write.
func (t *Writer) bytes(e *event) {
	if len(e.bytes) == 0 {
		return
	}
	way := &t.ways[0]
	if e.sent {
		way = &t.ways[1]
	}
	if t.line.way != way {
		t.part()
	}
	var text strings.Builder
	for _, b := range e.bytes {
		c := way.feed(b)
		switch {
		case c.endsBefore && t.line.open:
			text.WriteString(comment(c.before))
			t.line.open = false
		case c.endsBefore: // it was parted
			text.WriteString("# " + seconds(e.at) + " " + c.before + "\n")
		}
		if !t.line.open {
			text.WriteString(seconds(e.at) + " " + way.arrow())
			t.line = line{open: true, way: way}
		}
		text.Write([]byte{' ', hexDigits[b>>4], hexDigits[b&15]})
		if c.endsAfter {
			text.WriteString(comment(c.after))
			t.line.open = false
		}
	}
	t.write(text.String())
}

// part ends the line that is open, since something else comes in between. A
// message that has not ended goes on in another line.
func (t *Writer) part() { t.end("goes on below") }

func (t *Writer) end(unfinished string) {
	if !t.line.open {
		return
	}
	t.line.open = false
	way := t.line.way
	if way.framer.UnderWay() {
		way.parted = true
		t.write(comment(unfinished))
		return
	}
	t.write(comment(way.straysEnd()))
}

func comment(words string) string {
	if words == "" {
		return "\n"
	}
	return "  # " + words + "\n"
}
