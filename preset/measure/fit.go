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
// is, then with a fit for the two that leave the least news; and once more from
// there as long as that helps, for a better machine tells better where the note
// ends.
func (s sound) bestLength(m machine, f free, b belief) fitted {
	best := fitted{news: math.Inf(1)}
	for range 4 {
		before := best.news
		for _, lasting := range s.likelyLengths(m, 2) {
			if g := s.fitLength(lasting, m, f, b, 6, 1e-3); g.news < best.news || best.machine.delay == nil {
				best = g
			}
		}
		m = best.machine
		if best.news > 0.97*before {
			break
		}
	}
	return best
}

// likelyLengths are the n lengths of the note that leave the least news of m.
func (s sound) likelyLengths(m machine, n int) []float64 {
	type rung struct{ lasting, news float64 }
	var ladder []rung
	for _, l := range noteLengths {
		if l < s.length()-m.first() {
			p := s.player(l)
			ladder = append(ladder, rung{l, p.innovation(&m, s.noise)})
		}
	}
	if len(ladder) == 0 {
		return []float64{s.length() / 2}
	}
	slices.SortStableFunc(ladder, func(a, b rung) int { return cmp.Compare(a.news, b.news) })
	var lengths []float64
	for _, r := range ladder[:min(n, len(ladder))] {
		lengths = append(lengths, r.lasting)
	}
	return lengths
}

// fitLength fits m with a direct sound that lasts so long.
func (s sound) fitLength(lasting float64, m machine, f free, b belief, rounds int, enough float64) fitted {
	p := s.player(lasting)
	left := make([]float64, len(s.take))
	if b.gain != nil && p.rest(&m, left) {
		p.belief = b
		p.trust = math.Sqrt(beliefWeight * (s.after(left, lasting)) * float64(len(left)))
	}
	m, sol := p.fit(m, f, rounds, enough)
	out := fitted{machine: m, solution: sol, free: f, rate: s.rate, lasting: lasting, noise: s.noise, news: math.Inf(1), sound: s}
	if p.rest(&m, left) {
		out.news = newsOf(left, s.rate, s.noise)
		for _, off := range b.of(&m) {
			out.news += 0.3 * math.Max(0, math.Abs(off)-1.5)
		}
		out.residual = s.after(left, lasting)
	}
	return out
}

// after is the mean square of what is left after the note.
func (s sound) after(left []float64, lasting float64) float64 {
	if s.dry != nil {
		return meanSquare(left)
	}
	return meanSquare(left[min(len(left), s.lead+int((lasting+noteFade)*s.rate)):])
}
