package picture

import (
	"math"

	"echowright/preset"
)

// Rates shows how often in a second the speed of a machine wavers, and how far.
type Rates struct{ Rates []Rate }

// A Rate is one steady wavering of the speed.
type Rate struct {
	At    preset.Hertz
	Peak  preset.Percent
	Cause string
}

func (r Rates) draw(s *sheet) {
	s.heading("The steady rates in the motion")
	low, high := 0.1, 100.0
	var peaks []float64
	for _, rate := range r.Rates {
		low, high = math.Min(low, float64(rate.At)), math.Max(high, float64(rate.At))
		peaks = append(peaks, float64(rate.Peak))
	}
	x := decades("times a second (Hz)", math.Max(low*0.9, 0.01), math.Min(high*1.1, 1000))
	y := shares("speed in %, to each side of its mean", peaks)
	a := axis{low: x.low, high: x.high, log: true, start: leftEdge, end: rightEdge}
	s.upwards(y)
	names := s.writer.place(r.names(a))
	s.y += names.height() + 2
	strip := s.y
	f := s.ground(140, x, y)
	for i, rate := range r.Rates {
		px, top := a.inside(float64(rate.At)), f.y.inside(float64(rate.Peak))
		s.group(group{class: "rate", hint: rate.Cause, data: []datum{{"hz", float64(rate.At)}, {"percent", float64(rate.Peak)}}}, func() {
			s.line(firstHeadInk, 3, whole, point{px, top}, point{px, f.bottom})
			s.add(sign(point{px, top}, 0, false))
			words, above := names.text(i, strip)
			s.line(gridline, 1, whole, point{px, above}, point{px, top - 5})
			s.group(group{class: "name"}, func() { s.text(words) })
		})
	}
	s.caption(r.words())
}

// names are in order of rate, as a strip wants them.
func (r Rates) names(a axis) []name {
	all := make([]name, len(r.Rates))
	for i, rate := range r.Rates {
		all[i] = name{x: a.inside(float64(rate.At)), words: fixed(float64(rate.At), 2) + " Hz", face: plain, must: true}
	}
	return all
}

func (r Rates) words() string {
	if len(r.Rates) == 0 {
		return "No steady rate stands out of the motion."
	}
	strongest := r.Rates[0]
	for _, rate := range r.Rates {
		if rate.Peak > strongest.Peak {
			strongest = rate
		}
	}
	words := "Each stem is something that turns unevenly; the higher, the more it bends the pitch."
	if strongest.Cause != "" {
		words += " The strongest, " + strongest.Cause + "."
	}
	return words
}
