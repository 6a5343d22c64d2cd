package measure

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

const (
	sightLow    = 120.0 // Hz: the band in which arrivals are looked for
	sightHigh   = 1700.0
	sightDull   = 500.0  // the same where the carrier may waver
	sightRate   = 9000.0 // Hz at the least
	sightLatest = 3.0    // s
	sightEarly  = 0.5    // s before the dry sound in which nothing can arrive: what is seen there is chance
	sightMost   = 18
	sightApart  = 0.0025 // s
	sightFaint  = 0.02   // of the loudest
	sightTimes  = 6.0    // what counts as an arrival, in standard deviations of chance
	sightFloor  = 3e-4   // of the mean power in the band: the depth of the spectrum's valleys that counts
)

// sight is where the dry sound is found again in the wet channel.
type sight struct {
	arrivals []arrival // the loudest first
	chance   float64   // standard deviation of what no arrival explains
	before   float64   // the greatest of what is seen before the dry sound
}

// look finds the arrivals of the dry channel in the wet one, twice: in the band up
// to each of the limits high, Hz.
func (c channels) look(high ...float64) []sight {
	step := thinning(c.rate, sightRate)
	rate := c.rate / float64(step)
	both := slowed(c.rate, band{0, 0.37 * rate}, step, c.dry, c.wet)
	s := newSpectra(both[0], both[1], rate)
	s.dryNoise = c.dryNoise / float64(step) * float64(s.length)
	var all []sight
	for _, h := range high {
		all = append(all, s.sight(h))
	}
	return all
}

// sight evens out the spectrum of the dry sound, which makes its correlation with
// the wet one narrow; then the greatest peak is taken off again and again, all
// levels fitted anew.
func (s *spectra) sight(high float64) sight {
	power, in := 0.0, 0.0
	weight := make([]float64, len(s.x))
	for i, v := range s.x {
		weight[i] = rise(s.hertz(i), sightLow/2, sightLow) * rise(-s.hertz(i), -1.3*high, -0.8*high)
		power += weight[i] * (real(v)*real(v) + imag(v)*imag(v))
		in += weight[i]
	}
	deep := sightFloor*power/in + s.dryNoise + 1e-300
	own, both := make([]complex128, len(s.x)), make([]complex128, len(s.x))
	for i, v := range s.x {
		p := real(v)*real(v) + imag(v)*imag(v)
		w := weight[i] / (p + deep)
		own[i] = complex(w*p, 0)
		both[i] = complex(w*real(v), -w*imag(v)) * s.y[i]
	}
	p := pursuit{rate: s.rate, own: s.back(own), seen: s.back(both)}
	return p.arrivals(math.Min(sightLatest, 0.9*float64(s.length)/s.rate))
}

// pursuit takes arrivals off a correlation. Both stand in a circle, lag 0 first.
type pursuit struct {
	rate      float64
	own, seen []float64
}

func (p *pursuit) arrivals(latest float64) sight {
	n := len(p.seen)
	early := min(n/3, int(sightEarly*p.rate))
	from, to := -int(leakReach*p.rate), min(int(latest*p.rate), n-early-2)
	left := slices.Clone(p.seen)
	at := func(i int) float64 { return left[(i+n)%n] }
	var found []arrival
	var out sight
	for i := -early; i < from; i++ {
		out.before = math.Max(out.before, math.Abs(at(i))/p.own[0])
	}
	for len(found) < sightMost {
		best := from
		for i := from; i < to; i++ {
			if math.Abs(at(i)) > math.Abs(at(best)) && p.free(float64(i)/p.rate, found) {
				best = i
			}
		}
		size := math.Abs(at(best))
		if !p.free(float64(best)/p.rate, found) || len(found) > 0 && size < sightFaint*math.Abs(found[0].amp)*p.own[0] {
			break
		}
		f := peak([]float64{at(best - 1), at(best), at(best + 1)}, 1, p.rate)
		if !(math.Abs(f.at*p.rate-1) <= 1) { // no top of its own: what is seen is all but flat
			f = arrival{at: 1 / p.rate, amp: at(best)}
		}
		found = append(found, arrival{at: f.at + float64(best-1)/p.rate, amp: f.amp / p.own[0]})
		p.refit(found)
		p.takeOff(left, found, early, to)
	}
	sum := 0.0
	for i := -early; i < from; i++ {
		sum += at(i) * at(i)
	}
	out.chance = math.Sqrt(sum/math.Max(1, float64(early+from))) / p.own[0]
	slices.SortStableFunc(found, func(a, b arrival) int { return sign(math.Abs(b.amp) - math.Abs(a.amp)) })
	for _, f := range found {
		if math.Abs(f.amp) > sightTimes*out.chance {
			out.arrivals = append(out.arrivals, f)
		}
	}
	return out
}

func sign(v float64) int {
	switch {
	case v < 0:
		return -1
	case v > 0:
		return 1
	}
	return 0
}

func (p *pursuit) free(t float64, found []arrival) bool {
	return !slices.ContainsFunc(found, func(f arrival) bool { return math.Abs(f.at-t) < sightApart })
}

// refit gives all arrivals the levels that together explain what was seen best.
func (p *pursuit) refit(found []arrival) {
	n := len(found)
	a, b := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i, f := range found {
		b.SetVec(i, between4(p.seen, f.at*p.rate))
		for j := i; j < n; j++ {
			a.SetSym(i, j, between4(p.own, (found[j].at-f.at)*p.rate))
		}
		a.SetSym(i, i, a.At(i, i)*(1+1e-6))
	}
	var c mat.Cholesky
	var x mat.VecDense
	if !c.Factorize(a) || c.SolveVecTo(&x, b) != nil {
		return
	}
	for i := range found {
		found[i].amp = x.AtVec(i)
	}
}

// takeOff leaves of what was seen, from early samples before lag 0 until to, what
// the arrivals do not explain.
func (p *pursuit) takeOff(left []float64, found []arrival, early, to int) {
	n := len(left)
	copy(left, p.seen)
	for _, f := range found {
		by := f.at * p.rate
		whole := int(math.Floor(by))
		w := cubic(float64(whole) + 1 - by)
		j := ((-early-whole-2)%n + n) % n
		before, now, next := p.own[j], p.own[(j+1)%n], p.own[(j+2)%n]
		j = (j + 3) % n
		for i := -early; i <= to; i++ {
			after := p.own[j]
			left[(i+n)%n] -= f.amp * (w[0]*before + w[1]*now + w[2]*next + w[3]*after)
			before, now, next = now, next, after
			if j++; j == n {
				j = 0
			}
		}
	}
}

// cubic are Lagrange's weights of the samples −1, 0, 1, 2 for reading at u.
func cubic(u float64) [4]float64 {
	return [4]float64{-u * (u - 1) * (u - 2) / 6, (u + 1) * (u - 1) * (u - 2) / 2, -(u + 1) * u * (u - 2) / 2, (u + 1) * u * (u - 1) / 6}
}

// between4 reads a circle at a place between samples.
func between4(x []float64, at float64) float64 {
	n := len(x)
	whole := int(math.Floor(at))
	sum := 0.0
	for j, w := range cubic(at - float64(whole)) {
		sum += w * x[((whole+j-1)%n+n)%n]
	}
	return sum
}
