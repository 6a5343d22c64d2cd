package picture

import (
	"math"

	"echowright/preset"
)

// Impulse shows the answer to a single short click, recorded or worked out of a
// sweep, on a scale in dB: each arrival is a peak.
type Impulse struct {
	Take Take // its onset is the direct sound
	Dry  bool // the direct sound is in a channel of its own, and not to be seen here
}

func (p Impulse) draw(s *sheet) {
	s.heading("What a single click becomes")
	from, to := p.Take.Span()
	to *= 1.15 // what comes after the last head is worth a look
	x, at := clock("the direct sound", from, to)
	low, high := p.Take.Envelope(from, to, int(wide))
	level := levels(low, high)
	y := p.scale(level)
	s.upwards(y)
	names := s.named(p.Take, "direct sound", x, at)
	f := s.ground(190, x, y)
	names.lead(f, func(m Mark, px float64) {
		s.line(names.ink(m), 1, dotted, point{px, f.top}, point{px, f.bottom})
		f.spread(names.ink(m), at(m.At), at(2*m.SD), f.top+12)
		s.add(sign(point{px, f.top}, names.place[m.Head], false))
	})
	f.note(at)
	s.area(sound, f.under(level))
	top := f.under(level)
	s.line(sound, 1.5, whole, top[1:len(top)-1]...)
	words := "One click goes in; each peak is a time at which it comes out again: the further right, the later; the higher, the louder. " +
		"A line stands at each head that was measured; peaks without a line are repeats, or what the machine adds."
	if p.Dry {
		words += " The direct sound has a channel of its own and is not shown; the time counts from it."
	}
	s.caption(words)
}

// levels of an envelope in dB, to its loudest.
func levels(low, high []float64) []float64 {
	most := math.Max(loudest(low, high), 1e-12)
	all := make([]float64, len(low))
	for i := range low {
		all[i] = 20 * math.Log10(math.Max(math.Max(-low[i], high[i])/most, 1e-6))
	}
	return all
}

func (p Impulse) scale(level []float64) scale {
	softest := 0.0
	for _, v := range level {
		softest = math.Min(softest, v)
	}
	return levelScale("level in dB, to the loudest arrival", 0, softest)
}

// under is the area below values that stand a pixel apart.
func (f frame) under(values []float64) []point {
	step := wide / float64(len(values))
	all := []point{{leftEdge, f.bottom}}
	for i, v := range values {
		all = append(all, point{leftEdge + (float64(i)+0.5)*step, f.y.inside(v)})
	}
	return append(all, point{rightEdge, f.bottom})
}

// Struck is the take with its onset set to the direct sound of its loudest click,
// when echoes come after the given times: where what is heard at those times is
// loudest in all, if either the direct sound or one of them is the loudest peak.
func (t Take) Struck(after []preset.Millis) Take {
	peak, most := 0, 0.0
	for i, v := range t.Samples {
		if math.Abs(v) > most {
			peak, most = i, math.Abs(v)
		}
	}
	best := -1.0
	for _, guess := range append([]preset.Millis{0}, after...) {
		onset := preset.SamplesToMillis(float64(peak), t.Rate) - guess
		heard := t.near(onset)
		for _, a := range after {
			heard += t.near(onset + a)
		}
		if heard > best*1.001 {
			best, t.Onset = heard, onset
		}
	}
	return t
}

// near is the loudest sample within a millisecond of a time from the first sample.
func (t Take) near(at preset.Millis) float64 {
	t.Onset = 0
	low, high := t.Envelope(at-1, at+1, 1)
	return math.Max(-low[0], high[0])
}
