package songclock

import "math"

// How a clock is told from its neighbours. All of it is common practice of
// tracking, no source, but for the two bytes.
const (
	// twoBytes is how long two bytes take on the wire, 2 · 320 µs (MIDI 1.0 Detailed
	// Specification 4.2.1, page 1): a clock sooner than that after another was put
	// there beside it, or had waited for long.
	twoBytes = 0.64

	misplaced  = 5.0  // in σ: so far off its place a clock has another number
	straying   = 5.0  // in σ: so far off it tells nothing about the tempo,
	strayLeast = 0.1  // in periods, but never nearer than this
	believed   = 3    // so many strays in a row mean it
	pull       = 0.25 // of what a clock is off, the next is expected off too
	denied     = 0.08 // of the period, that the gaps of late may be off
	lately     = 16   // clocks
	few        = 4    // clocks that tell something together
)

// numberOf is how many steps after the last a clock stands that came so far off
// the place of the next: 1 where it is the next, 0 where it is the last one again,
// more where some are missing.
func numberOf(off, period, sigma float64) int {
	if math.Abs(off) <= max(period/2, misplaced*sigma) {
		return 1
	}
	return max(0, 1+int(math.Round(off/period)))
}

// isStray reports whether a clock lies too far off its place to be mere jitter.
func isStray(off, period, sigma float64) bool {
	return math.Abs(off) > max(straying*sigma, strayLeast*period)
}

// noise learns the jitter from second differences t₀ − 2t₁ + t₂ of three clocks in
// a row: they do not see the tempo, and have the variance (1+4+1)·σ². The mean of
// their amounts is √6·σ·√(2/π) for Gaussian jitter; single wild ones are cut.
type noise struct {
	before, last float64
	have         int // of the two above
	mean         float64
	count        int
}

const (
	amountOfSigma = 1.9544 // √6·√(2/π)
	leastSigma    = 0.01   // ms: no system tells times better
	wildest       = 4.0    // times the mean
	memory        = 192    // clocks
)

func (n *noise) sigma() float64 { return max(leastSigma, n.mean/amountOfSigma) }

// most is how large sigma may be in truth, as far as few clocks can tell: a mean of
// n amounts is sure to some 0.9/√n of itself, and this is two of that.
func (n *noise) most() float64 {
	return n.sigma() * (1 + 1.8/math.Sqrt(float64(max(1, n.count))))
}

func (n *noise) breakOff() { n.have = 0 }

// hear takes the time of a clock, and whether it followed the one before.
func (n *noise) hear(t float64, follows bool) {
	if !follows {
		n.have = 0
	}
	if n.have == 2 {
		amount := math.Abs(n.before - 2*n.last + t)
		if n.count > 0 {
			amount = min(amount, wildest*max(n.mean, leastSigma))
		}
		n.count = min(memory, n.count+1)
		n.mean += (amount - n.mean) / float64(n.count)
	}
	n.before, n.last, n.have = n.last, t, min(2, n.have+1)
}

// gaps are the last ones between clocks, whatever their numbers: the witness
// against a follower that has numbered itself into another tempo.
type gaps struct {
	ms   [16]float64
	next int
	n    int
}

func (g *gaps) add(ms float64) {
	g.ms[g.next] = ms
	g.next = (g.next + 1) % len(g.ms)
	g.n = min(len(g.ms), g.n+1)
}

// back is the gap so many before the newest.
func (g *gaps) back(i int) float64 { return g.ms[(g.next-1-i+len(g.ms))%len(g.ms)] }

// sum is how long the last few took.
func (g *gaps) sum(few int) (ms float64) {
	for i := range min(few, g.n) {
		ms += g.back(i)
	}
	return ms
}

// median is the middle one, 0 where there is none.
func (g *gaps) median() float64 {
	if g.n == 0 {
		return 0
	}
	var sorted [len(g.ms)]float64
	for i := range g.n {
		v := g.back(i)
		j := i
		for ; j > 0 && sorted[j-1] > v; j-- {
			sorted[j] = sorted[j-1]
		}
		sorted[j] = v
	}
	return (sorted[(g.n-1)/2] + sorted[g.n/2]) / 2
}

// off is how far the median lies off a period, as far as it says something: more
// than so many of its own deviations 1.2533·√2·σ/√16, and than a share of the
// period; else 0.
func (g *gaps) off(period, sigma, deviations float64) float64 {
	off := g.median() - period
	if g.n < len(g.ms) || math.Abs(off) <= max(denied*period, deviations*0.4431*sigma) {
		return 0
	}
	return off
}

// slips is how many numbers were skipped of late, less those that were given twice,
// each time counted once. A clock that is delayed skips some and gives them twice
// after; another tempo always slips the same way.
type slips struct{ sum float64 }

func (s *slips) note(step int) {
	s.sum += float64(min(1, step-1)) - s.sum/lately
}

// What gaps (in deviations) and slips have to say to be believed alone, or together.
const (
	certain     = 5.0
	doubtful    = 2.5
	manySlips   = 2.0
	hardlyASlip = 0.5
)

// deny reports whether slips and gaps say that the period is another: one of them
// clearly, or both a little and the same way. To be wrong costs little: what was
// known is held and found again.
func deny(g *gaps, s *slips, period, sigma float64) bool {
	if math.Abs(s.sum) >= manySlips || g.off(period, sigma, certain) != 0 {
		return true
	}
	return math.Abs(s.sum) >= hardlyASlip && s.sum*g.off(period, sigma, doubtful) > 0
}
