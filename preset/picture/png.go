package picture

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
)

// Pixels of the image to one of the page: the image stays sharp on a screen of
// twice the usual fineness, and in print.
const fineness = 2

// pixels is the canvas that is an image. Its own y grows upwards.
type pixels struct {
	to     *vgimg.Canvas
	writer *writer
	height float64
}

func newPixels(w *writer, width, height float64) *pixels {
	const pointsPerInch = 72
	return &pixels{writer: w, height: height, to: vgimg.NewWith(
		vgimg.UseWH(vg.Points(width), vg.Points(height)), vgimg.UseDPI(pointsPerInch*fineness),
		vgimg.UseBackgroundColor(inks[paper].day))}
}

func (p *pixels) encode() ([]byte, error) {
	var out bytes.Buffer
	if _, err := (vgimg.PngCanvas{Canvas: p.to}).WriteTo(&out); err != nil {
		return nil, fmt.Errorf("PNG: %w", err)
	}
	return out.Bytes(), nil
}

func (p *pixels) line(l line) {
	p.to.SetColor(inks[l.ink].day)
	p.to.SetLineWidth(vg.Points(l.width))
	p.to.SetLineDash(lengths(l.dash), 0)
	p.to.Stroke(p.path(l.points))
}

func (p *pixels) area(a area) {
	path := p.path(a.points)
	path.Close()
	if !a.hollow {
		p.to.SetColor(inks[a.ink].day)
		p.to.Fill(path)
		return
	}
	p.to.SetColor(inks[paper].day)
	p.to.Fill(path)
	p.to.SetColor(inks[a.ink].day)
	p.to.SetLineWidth(vg.Points(1))
	p.to.SetLineDash(nil, 0)
	p.to.Stroke(path)
}

func (p *pixels) text(t text) {
	p.to.SetColor(inks[t.ink].day)
	at := t.at
	at.x -= float64(t.anchor) * p.writer.drawn(t.words, t.face)
	p.to.FillString(p.writer[t.face], p.place(at), t.words)
}

func (p *pixels) open(group) {}
func (p *pixels) close()     {}

func (p *pixels) path(points []point) vg.Path {
	var path vg.Path
	for i, at := range points {
		if i == 0 {
			path.Move(p.place(at))
		} else {
			path.Line(p.place(at))
		}
	}
	return path
}

// place turns a point of the page over; what is no number becomes 0, and what is
// far off the page comes nearer, so that nothing is drawn for ever.
func (p *pixels) place(at point) vg.Point {
	const far = 1e4
	near := func(v float64) float64 {
		if math.IsNaN(v) {
			return 0
		}
		return math.Max(-far, math.Min(far, v))
	}
	return vg.Point{X: vg.Points(near(at.x)), Y: vg.Points(p.height - near(at.y))}
}

func lengths(d dash) []vg.Length {
	var all []vg.Length
	for _, word := range strings.Fields(string(d)) {
		if v, err := strconv.ParseFloat(word, 64); err == nil {
			all = append(all, vg.Points(v))
		}
	}
	return all
}
