package measure

import (
	"math"
	"slices"
)

// fitted is a machine fitted to a sound, with what can be said of the fit.
type fitted struct {
	machine  machine
	solution solution
	free     free
	sound    sound
	white    bool    // the sound is the attacks alone
	rung     int     // of noteLengths: how long the note lasts
	residual float64 // mean square of what is not explained after the note
	news     float64 // see newsOf
}

// noteLengths are the lengths of the note that are tried, s.
var noteLengths = []float64{0.04, 0.06, 0.1, 0.13, 0.16, 0.2, 0.25, 0.32, 0.4, 0.6}

const (
	noteFade   = 0.010 // s
	blockTime  = 0.008 // s
	attackTime = 0.030 // s after the onset in which the note may rise as it likes
	riseTime   = 0.150 // s in which it may rise by riseMost later
	riseMost   = 2.0   // as a power
)

// quietest is the level to the direct sound from which on an echo is believed
// without much else to show for it.
const quietest = 0.2

// effort is how much work goes into a fit.
type effort struct {
	passes int     // how often errors are weighed anew
	rounds int     // of Levenberg and Marquardt, each
	enough float64 // share of the sum of squares that a round must gain
}

var (
	long  = effort{3, 8, 1e-3} // where a run costs little and the way is far
	rough = effort{2, 6, 1e-3}
	exact = effort{2, 3, 1e-4}
)

// fitTo fits m to the sound with a note of that length.
func (s sound) fitTo(m machine, f free, rung int, e effort) fitted {
	p := player{sound: s}
	p.lasting(noteLengths[rung])
	left := make([]float64, len(s.take))
	best := fitted{machine: m, free: f, sound: s, rung: rung, news: math.Inf(1)}
	if !p.rest(&m, left) {
		return best
	}
	for range e.passes {
		p.weigh(left)
		var sol solution
		m, sol = p.fit(m, f, e.rounds, e.enough)
		if !p.rest(&m, left) {
			return best
		}
		now := fitted{machine: m, solution: sol, free: f, sound: s, rung: rung, news: newsOf(left, s.rate, s.noise), residual: p.after(left)}
		if now.news >= best.news {
			return best
		}
		done := now.news > 0.98*best.news
		best = now
		if done {
			return best
		}
	}
	return best
}

// asItIs is m on the sound without a fit.
func (s sound) asItIs(m machine, f free, rung int) fitted {
	p := player{sound: s}
	p.lasting(noteLengths[rung])
	left := make([]float64, len(s.take))
	out := fitted{machine: m, free: f, sound: s, rung: rung, news: math.Inf(1), residual: math.Inf(1)}
	if p.rest(&m, left) {
		out.news, out.residual = newsOf(left, s.rate, s.noise), p.after(left)
	}
	return out
}

// after is the mean square of what is left after the note.
func (p *player) after(left []float64) float64 {
	sum, n := 0.0, 0
	for i, w := range p.note {
		if w == 0 && i >= p.lead {
			sum += left[i] * left[i]
			n++
		}
	}
	return sum / math.Max(1, float64(n))
}

// bestLength fits m with the length of the note that leaves the least news of it.
func (s sound) bestLength(m machine, f free, e effort) fitted {
	return s.betterLength(s.fitTo(m, f, s.likelyLength(m), e), e)
}

// betterLength goes on from a fit with the length of the note that its machine
// likes better, or with the next longer one, as long as that helps.
func (s sound) betterLength(best fitted, e effort) fitted {
	for range 4 {
		next := s.likelyLength(best.machine)
		if next == best.rung {
			next++
		}
		if best.beyond() < unexplained && next > best.rung || next >= len(noteLengths) || noteLengths[next] > s.longest {
			return best
		}
		g := s.fitTo(best.machine, best.free, next, e)
		if g.news > best.news {
			return best
		}
		best = g
	}
	return best
}

// likelyLength is the rung of noteLengths that leaves the least news of m; the
// shortest where there is little to choose, for what is taken for the note says
// little of the echoes.
func (s sound) likelyLength(m machine) int {
	p := player{sound: s}
	left := make([]float64, len(s.take))
	var news []float64
	for i, l := range noteLengths {
		if i > 0 && l > math.Min(s.longest, s.length()-m.first()) {
			break
		}
		p.lasting(l)
		n := math.Inf(1)
		if p.rest(&m, left) {
			n = newsOf(left, s.rate, s.noise)
		}
		news = append(news, n)
	}
	least := slices.Min(news)
	return max(0, slices.IndexFunc(news, func(v float64) bool { return v <= 1.02*least+0.02 }))
}

// beyond is how far what is not explained lies above the noise, dB.
func (f fitted) beyond() float64 {
	return 10 * math.Log10(math.Max(f.residual, 1e-30)/f.sound.noise)
}

// told is the share of the news of the bare sound that the machine takes away.
func (f fitted) told() float64 {
	bare := newsOf(f.sound.take, f.sound.rate, f.sound.noise)
	return 1 - f.news/math.Max(bare, 1e-9)
}

// quiet tells whether the loudest head lies so far below the direct sound that
// what a note leaves of itself may pass for it.
func (f fitted) quiet() bool {
	top := 0.0
	for _, a := range f.machine.gain {
		top = math.Max(top, math.Abs(a))
	}
	return top*f.machine.tone.magnitude(1000, f.sound.rate) < quietest
}
