package measure

import (
	"cmp"
	"math"
	"slices"
)

// fitted is a machine fitted to one note, with what can be said of the fit.
type fitted struct {
	machine  machine
	solution solution
	free     free
	rate     float64
	lasting  float64 // s from the onset: how long the direct sound lasts
	residual float64 // mean square of what is not explained, after the note
	noise    float64
	news     float64 // innovation, see there
	sound    sound
}

const noteFade = 0.010 // s

// noteLengths are the lengths of the direct sound that are tried, s.
var noteLengths = []float64{0.04, 0.06, 0.1, 0.16, 0.25, 0.4, 0.65, 1.0, 1.6, 2.6}

func (s sound) player(lasting float64) player {
	p := player{rate: s.rate, take: s.take, dry: s.dry}
	if s.dry == nil {
		p.note = noteWindow(len(s.take), s.lead+int(lasting*s.rate), int(noteFade*s.rate))
	} else {
		p.note = make([]float64, len(s.take))
	}
	return p
}

// bestLength tries the ladder of note lengths, cheaply with the machine as it
// is, then with a fit for the few that leave the least news.
func (s sound) bestLength(start machine, f free) fitted {
	type rung struct{ lasting, news float64 }
	var ladder []rung
	for _, l := range noteLengths {
		if l < s.length()-start.first() {
			p := s.player(l)
			ladder = append(ladder, rung{l, p.innovation(&start, s.noise)})
		}
	}
	if len(ladder) == 0 {
		ladder = []rung{{s.length() / 2, 0}}
	}
	slices.SortStableFunc(ladder, func(a, b rung) int { return cmp.Compare(a.news, b.news) })
	best := fitted{news: math.Inf(1)}
	for _, r := range ladder[:min(3, len(ladder))] {
		if g := s.fitLength(r.lasting, start, f, 6, 1e-3); g.news < best.news || best.machine.delay == nil {
			best = g
		}
	}
	return best
}

// fitLength fits m with a direct sound that lasts so long.
func (s sound) fitLength(lasting float64, m machine, f free, rounds int, enough float64) fitted {
	p := s.player(lasting)
	m, sol := p.fit(m, f, rounds, enough)
	left := make([]float64, len(s.take))
	out := fitted{machine: m, solution: sol, free: f, rate: s.rate, lasting: lasting, noise: s.noise, news: math.Inf(1), sound: s}
	if p.rest(&m, left) {
		out.news = newsOf(left, s.rate, s.noise)
		after := min(len(left), s.lead+int((lasting+noteFade)*s.rate))
		if s.dry != nil {
			after = 0
		}
		out.residual = meanSquare(left[after:])
	}
	return out
}
