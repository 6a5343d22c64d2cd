package picture

// The measures of a page, in pixels.
const (
	pageWidth = 960.0
	leftEdge  = 64.0
	rightEdge = pageWidth - 24
	wide      = rightEdge - leftEdge
)

// A Panel is one drawing of a page.
type Panel interface {
	draw(s *sheet)
}

// SVG is the page as a file's text. It shows on light and on dark grounds.
func SVG(title string, panels ...Panel) ([]byte, error) {
	s, err := drawn(title, panels)
	if err != nil {
		return nil, err
	}
	c := &svg{}
	c.begin(title, pageWidth, s.y)
	s.onto(c)
	c.end()
	return []byte(c.out.String()), nil
}

// PNG is the page as an image, dark on light, of two pixels to one of the SVG.
func PNG(title string, panels ...Panel) ([]byte, error) {
	s, err := drawn(title, panels)
	if err != nil {
		return nil, err
	}
	c := newPixels(&s.writer, pageWidth, s.y)
	s.onto(c)
	return c.encode()
}

func drawn(title string, panels []Panel) (*sheet, error) {
	w, err := newWriter()
	if err != nil {
		return nil, err
	}
	s := &sheet{writer: w, y: 36}
	for _, words := range w.lines(title, headline, wide) {
		s.text(text{at: point{leftEdge, s.y}, words: words, face: headline})
		s.y += 22
	}
	for _, p := range panels {
		s.y += 12
		s.panel(p)
	}
	s.y += 16
	return s, nil
}
