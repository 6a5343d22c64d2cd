package picture

import (
	"math"

	"echowright/preset"
)

// Waveform shows a take as an editor would, with a line at each echo.
type Waveform struct {
	Take  Take
	Notes int // in the recording, of which this is the first
}

// What is softer, in fractions of full scale, is drawn as silence.
const softest = 1e-5

func (w Waveform) draw(s *sheet) {
	s.heading("The take")
	from, to := w.Take.Span()
	x, at := clock("the note", from, to)
	low, high := w.Take.Envelope(from, to, int(wide))
	most := loudest(low, high)
	if most < softest {
		most = 1
	}
	y := linear("height of the recorded wave in % of what a recording can hold", -most, most, 5)
	y.label = func(v float64) string { return label(100 * v) }
	s.upwards(y)
	names := s.named(w.Take, "note", x, at)
	f := s.ground(170, x, y)
	s.area(sound, around(f, low, high))
	f.note(at)
	names.lead(f, func(m Mark, x float64) {
		width, d := 1.5, whole
		if m.Turn > 0 {
			width, d = 1, dotted
		}
		s.line(names.ink(m), width, d, point{x, f.top}, point{x, f.bottom})
		f.spread(names.ink(m), at(m.At), at(2*m.SD), f.top+8)
	})
	s.caption(w.words() + w.Take.howNamesRead(names.missing()))
}

func (w Waveform) words() string {
	words := "The recording as an editor shows it"
	if w.Notes > 1 {
		words += ", the first of " + label(float64(w.Notes)) + " notes"
	}
	return words + ". A line marks the beginning of each echo that was found; the head's name stands above it."
}

func (s *sheet) area(i ink, points []point) { s.add(area{ink: i, points: points}) }

func loudest(low, high []float64) float64 {
	most := 0.0
	for i := range low {
		if v := math.Max(-low[i], high[i]); !math.IsInf(v, 0) {
			most = math.Max(most, v)
		}
	}
	return most
}

// around goes along the greatest samples and back along the least.
func around(f frame, low, high []float64) []point {
	var all []point
	step := wide / float64(len(low))
	for i, v := range high {
		all = append(all, point{leftEdge + (float64(i)+0.5)*step, f.y.inside(v) - 0.5})
	}
	for i := len(low) - 1; i >= 0; i-- {
		all = append(all, point{leftEdge + (float64(i)+0.5)*step, f.y.inside(low[i]) + 0.5})
	}
	return all
}

// note marks the direct sound.
func (f frame) note(at func(preset.Millis) float64) {
	f.upright(at(0), black, 1, dotted)
}

// spread is a bar from so much before x to so much after it, where it is wide
// enough to be seen.
func (f frame) spread(i ink, x, off, y float64) {
	early, late := f.x.inside(x-off), f.x.inside(x+off)
	if !(late-early > 2) {
		return
	}
	f.s.group(group{class: "bar"}, func() {
		f.s.line(i, 1.5, whole, point{early, y}, point{late, y})
		f.s.line(i, 1.5, whole, point{early, y - 4}, point{early, y + 4})
		f.s.line(i, 1.5, whole, point{late, y - 4}, point{late, y + 4})
	})
}

// A nameboard is the strip of names above a frame in which a take is drawn.
type nameboard struct {
	strip
	s      *sheet
	take   Take
	place  map[int]int
	bottom float64
}

// named makes room for the names of a take's direct sound and echoes, above the
// frame to come.
func (s *sheet) named(t Take, direct string, x scale, at func(preset.Millis) float64) nameboard {
	a := axis{low: x.low, high: x.high, start: leftEdge, end: rightEdge}
	all := append([]name{{x: a.at(0), words: direct, face: plain, must: true}},
		t.names(func(m Mark) float64 { return a.inside(at(m.At)) })...)
	b := nameboard{strip: s.writer.place(all), s: s, take: t, place: order(t.heads())}
	s.y += b.height() + 2
	b.bottom = s.y
	return b
}

func (b nameboard) ink(m Mark) ink { return inkOf(b.place[m.Head]) }

// lead draws each echo with its name and leader in a group of its own.
func (b nameboard) lead(f frame, draw func(m Mark, x float64)) {
	b.write(0, f)
	for i, m := range b.take.Marks {
		b.s.group(m.group(), func() {
			draw(m, b.names[i+1].x)
			b.write(i+1, f)
		})
	}
}

func (b nameboard) write(i int, f frame) {
	if !b.places[i].there {
		return
	}
	words, top := b.text(i, b.bottom)
	b.s.line(frameline, 1, whole, point{b.names[i].x, top}, point{b.names[i].x, f.top})
	b.s.group(group{class: "name"}, func() { b.s.text(words) })
}
