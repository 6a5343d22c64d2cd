package arrange

import (
	"math"

	"echowright/preset"
)

// How far, in widths of both, two Gaussians are still taken to overlap: beyond,
// less than 10⁻⁷ of their product is left.
const overlapReach = 6

// cost is what the network's echoes are off the wish: the squared error over the
// wish, +Inf where they are too many. Scale is as for play.
func (e *ear) cost(n preset.Network, scale float64) float64 {
	if !e.play(n, scale) {
		return math.Inf(1)
	}
	e.merge()
	return e.judge()
}

// merge adds what falls together, forgets signs and drops what lies below the floor.
func (e *ear) merge() {
	floor := preset.TrainFloor.Amplitude() * (1 - 1e-9)
	kept := e.sounds[:0]
	for i := 0; i < len(e.sounds); {
		s := e.sounds[i]
		for i++; i < len(e.sounds) && e.sounds[i].at-s.at <= coincide; i++ {
			s.amp += e.sounds[i].amp
		}
		if s.amp = math.Abs(s.amp); s.amp >= floor {
			kept = append(kept, s)
		}
	}
	e.sounds = kept
}

// judge is cost of the sounds as they stand.
func (e *ear) judge() float64 {
	e.widths()
	rest := e.wish.own
	for i, a := range e.sounds {
		s := e.sigmas[i]
		rest += a.amp * (a.amp/(2*math.Sqrt(math.Pi)*s) - 2*e.places.at(a.at))
		for j := i + 1; j < len(e.sounds); j++ {
			near, v := e.near(i, j)
			if near < 0 {
				break
			}
			e.work++
			rest += 2 * a.amp * e.sounds[j].amp * math.Exp(-near/2) / math.Sqrt(2*math.Pi*v)
		}
	}
	return math.Max(rest, 0) / e.wish.own
}

func (e *ear) widths() {
	e.sigmas = e.sigmas[:0]
	for _, s := range e.sounds {
		e.sigmas = append(e.sigmas, math.Max(3, s.at/80))
	}
}

// near is the squared distance of two sounds in widths, −1 where they are too far
// apart to matter, and the sum of their variances. The first must be the earlier.
func (e *ear) near(i, j int) (squared, variance float64) {
	d := e.sounds[j].at - e.sounds[i].at
	variance = e.sigmas[i]*e.sigmas[i] + e.sigmas[j]*e.sigmas[j]
	squared = d * d / variance
	if squared > overlapReach*overlapReach {
		return -1, variance
	}
	return squared, variance
}

// sums lists the products of which the squared error is made for every level that
// the paths to the output may have: signs apart, the error is quadratic in them.
// What the paths have at present is divided by gains. It is false where the
// echoes are too many.
func (e *ear) sums(n preset.Network, gains []float64) (sums, bool) {
	x := sums{pairs: square(len(gains)), wish: make([]float64, len(gains)), own: e.wish.own, power: e.wish.own}
	if !e.play(n, 1) {
		return x, false
	}
	for i := range e.sounds {
		s := &e.sounds[i]
		s.amp = math.Abs(s.amp) / gains[s.out]
	}
	e.widths()
	for i, a := range e.sounds {
		x.wish[a.out] += a.amp * e.places.at(a.at)
		x.pairs[a.out][a.out] += a.amp * a.amp / (2 * math.Sqrt(math.Pi) * e.sigmas[i])
		for j := i + 1; j < len(e.sounds); j++ {
			near, v := e.near(i, j)
			if near < 0 {
				break
			}
			e.work++
			b := e.sounds[j]
			p := a.amp * b.amp * math.Exp(-near/2) / math.Sqrt(2*math.Pi*v)
			x.pairs[a.out][b.out] += p
			x.pairs[b.out][a.out] += p
		}
	}
	return x, true
}

// places is how much an echo of amplitude 1 overlaps with the wish, by its time:
// worked out once at steps of a small part of the Gaussians' width, where it is
// asked for, and interpolated between by a cubic (to some 10⁻⁷).
type places struct {
	wish   []sound
	sigmas []float64
	known  []float64 // NaN: not yet
}

// The axis of places: even steps up to the time at which widths begin to grow, and
// then as they grow.
const (
	placesPerSigma = 24
	evenUntil      = 240.0
	evenSigma      = 3.0
)

func newPlaces(w *wish) *places {
	p := &places{}
	for _, e := range w.train {
		p.wish = append(p.wish, sound{at: float64(e.At), amp: e.Level.Amplitude()})
		p.sigmas = append(p.sigmas, math.Max(3, float64(e.At)/80))
	}
	p.known = make([]float64, int(axis(1.5*float64(w.limit)))+4)
	for i := range p.known {
		p.known[i] = math.NaN()
	}
	return p
}

// axis is the place of a time, counted from one step before 0 ms.
func axis(t float64) float64 {
	const perMS = placesPerSigma / evenSigma
	if t <= evenUntil {
		return 1 + t*perMS
	}
	return 1 + evenUntil*perMS + math.Log(t/evenUntil)*evenUntil*perMS
}

func timeAt(place float64) float64 {
	const perMS = placesPerSigma / evenSigma
	t := (place - 1) / perMS
	if t <= evenUntil {
		return t
	}
	return evenUntil * math.Exp((t-evenUntil)/evenUntil)
}

func (p *places) at(t float64) float64 {
	x := axis(t)
	i := int(x)
	f := x - float64(i)
	if i < 1 || i+2 >= len(p.known) {
		return p.exact(t)
	}
	a, b, c, d := p.knownAt(i-1), p.knownAt(i), p.knownAt(i+1), p.knownAt(i+2)
	return -f*(f-1)*(f-2)/6*a + (f+1)*(f-1)*(f-2)/2*b - (f+1)*f*(f-2)/2*c + (f+1)*f*(f-1)/6*d
}

func (p *places) knownAt(i int) float64 {
	if math.IsNaN(p.known[i]) {
		p.known[i] = p.exact(timeAt(float64(i)))
	}
	return p.known[i]
}

func (p *places) exact(t float64) float64 {
	s := math.Max(3, t/80)
	sum := 0.0
	for i, w := range p.wish {
		v := s*s + p.sigmas[i]*p.sigmas[i]
		d := w.at - t
		if d*d < v*overlapReach*overlapReach*1.5 {
			sum += w.amp * math.Exp(-d*d/(2*v)) / math.Sqrt(2*math.Pi*v)
		}
	}
	return sum
}
