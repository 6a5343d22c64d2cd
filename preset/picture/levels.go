package picture

import (
	"math"

	"echowright/preset"
)

// Levels shows each echo of a take as a stem on a scale in dB, 0 dB being the
// direct sound, with bars for what is uncertain: twice the standard deviation
// each way, which holds the truth 19 times in 20.
type Levels struct{ Take Take }

func (l Levels) draw(s *sheet) {
	s.heading("How late and how loud the echoes are")
	place := order(l.Take.heads())
	var entries []entry
	for _, m := range l.Take.first() {
		entries = append(entries, entry{m.name() + ": " + m.figures(), signed(place[m.Head], false)})
	}
	s.legend(entries)
	from, to := l.Take.Span()
	x, at := clock("the note", from, to)
	y := l.scale()
	s.upwards(y)
	names := s.named(l.Take, "note", x, at)
	f := s.ground(230, x, y)
	f.level(0, black, 1, dotted)
	f.direct(at)
	names.lead(f, func(m Mark, px float64) {
		if float64(m.Level) < f.y.low {
			return // below the scale
		}
		top := point{px, f.y.inside(seen(m.Level))}
		i := names.ink(m)
		s.line(gridline, 1, whole, point{px, f.top}, top)
		s.line(i, 1.5, whole, top, point{px, f.bottom})
		f.spread(i, at(m.At), at(2*m.SD), top.y)
		f.rise(i, m, px)
		s.add(sign(top, place[m.Head], m.Turn > 0))
	})
	s.caption("Each stem is an echo: the further right, the later; the higher, the louder, 0 dB being the sound itself. " +
		"A filled sign is a head's first echo, a hollow one a repeat. Bars reach as far as the truth may lie (19 times in 20); " +
		"where there is none it is smaller than the sign. The figures above have one standard deviation after ±.")
}

// direct is the stem of the direct sound.
func (f frame) direct(at func(preset.Millis) float64) {
	top := point{f.x.at(at(0)), f.y.inside(0)}
	f.s.line(black, 1.5, whole, top, point{top.x, f.bottom})
	dot := sign(top, 0, false)
	dot.ink = black
	f.s.add(dot)
}

// rise is the bar of a level.
func (f frame) rise(i ink, m Mark, x float64) {
	low, high := f.y.inside(seen(m.Level-2*m.LevelSD)), f.y.inside(seen(m.Level+2*m.LevelSD))
	if !(low-high > 2) {
		return
	}
	f.s.group(group{class: "bar"}, func() {
		f.s.line(i, 1.5, whole, point{x, low}, point{x, high})
		f.s.line(i, 1.5, whole, point{x - 5, low}, point{x + 5, low})
		f.s.line(i, 1.5, whole, point{x - 5, high}, point{x + 5, high})
	})
}

// scale goes from the round value above the loudest echo to below the softest, 60 dB
// at the most.
func (l Levels) scale() scale {
	loudest, softest := 0.0, 0.0
	for _, m := range l.Take.Marks {
		loudest, softest = math.Max(loudest, seen(m.Level)), math.Min(softest, seen(m.Level))
	}
	return levelScale("level in dB, to the direct sound", loudest, softest)
}

// levelScale is a scale in dB. A hair above a round value does not cost a tenth of
// the height.
func levelScale(name string, loudest, softest float64) scale {
	const deepest, least = 60, 24
	high := 6 * ceil((loudest-0.5)/6)
	low := math.Max(high-deepest, math.Min(high-least, 6*math.Floor((softest-3)/6)))
	s := scale{name: name, low: low, high: high, label: func(v float64) string { return label(v) + " dB" }}
	step := 12.0
	if high-low <= 36 {
		step = 6
	}
	for v := high; v >= low; v -= step {
		s.ticks = append(s.ticks, v)
	}
	return s
}

// seen keeps a level that may be −∞ on the scale.
func seen(d preset.Decibels) float64 {
	if math.IsNaN(float64(d)) {
		return -200
	}
	return math.Max(-200, math.Min(200, float64(d)))
}
