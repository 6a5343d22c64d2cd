package picture

import (
	"fmt"
	"strings"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font/opentype"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// A face is one of the ways of writing on a page.
type face int

const (
	small face = iota // numbers at axes, names of repeats
	plain
	strong
	headline
)

// faces and their sizes in pixels.
var faces = [...]struct {
	class string
	size  float64
	bold  bool
}{
	small:    {"small", 12, false},
	plain:    {"plain", 13, false},
	strong:   {"strong", 14, true},
	headline: {"headline", 18, true},
}

// fontFamily begins with the font that words are measured with; the next two are
// as wide, letter by letter. Where none of them is installed the words come out
// wider, by up to so much in those that are usual instead.
const (
	fontFamily = "'Liberation Sans',Arial,Helvetica,sans-serif"
	wider      = 1.17
	widerBold  = 1.25
)

// A writer knows how wide words are.
type writer [len(faces)]font.Face

func newWriter() (writer, error) {
	var w writer
	regular, err := opentype.Parse(liberationsansregular.TTF)
	if err != nil {
		return w, fmt.Errorf("font: %w", err)
	}
	bold, err := opentype.Parse(liberationsansbold.TTF)
	if err != nil {
		return w, fmt.Errorf("font: %w", err)
	}
	for i, f := range faces {
		w[i] = font.Face{Font: font.Font{Size: vg.Points(f.size)}, Face: regular}
		if f.bold {
			w[i].Face = bold
		}
	}
	return w, nil
}

// width is the room in pixels that words need, in whatever font they are shown.
func (w *writer) width(words string, f face) float64 {
	if faces[f].bold {
		return widerBold * w.drawn(words, f)
	}
	return wider * w.drawn(words, f)
}

// drawn is the width of words in the writer's own font.
func (w *writer) drawn(words string, f face) float64 { return w[f].Width(words).Points() }

// lines breaks words so that no line is wider than wide, except by a single word.
func (w *writer) lines(words string, f face, wide float64) []string {
	var all []string
	now := ""
	for _, word := range strings.Fields(words) {
		longer := strings.TrimPrefix(now+" "+word, " ")
		if now != "" && w.width(longer, f) > wide {
			all = append(all, now)
			longer = word
		}
		now = longer
	}
	if now != "" {
		all = append(all, now)
	}
	return all
}

// A box is where something stands on the page.
type box struct{ left, top, right, bottom float64 }

// boxOf is where a text stands, from its highest letters to its lowest.
func (w *writer) boxOf(t text) box {
	size, wide := faces[t.face].size, w.width(t.words, t.face)
	left := t.at.x - float64(t.anchor)*wide
	return box{left: left, top: t.at.y - 0.76*size, right: left + wide, bottom: t.at.y + 0.22*size}
}

func (b box) meets(o box) bool {
	return b.left < o.right && o.left < b.right && b.top < o.bottom && o.top < b.bottom
}
