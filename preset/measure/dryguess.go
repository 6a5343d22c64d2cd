package measure

import (
	"cmp"
	"math"
	"slices"
)

const (
	guessFrom  = 13     // arrivals that may be heads
	guessNear  = 0.0015 // s within which an arrival is a repeat
	guessFirst = 0.1    // of the loudest: the first arrival is a head if it is so loud
	guessFloor = 0.01   // of the loudest: repeats are followed down to here

	guessShadow   = 0.016 // s around an arrival in which it may have shadows
	guessShadowed = 4.0   // times as loud as they are
)

// guess is a way to explain arrivals: some are first echoes of the heads, the
// others repeats by the loop through one of them.
type guess struct {
	heads []arrival // in order of delay
	feed  int       // −1: none
	fed   float64   // amplitude ratio of one turn, with sign
	miss  float64   // share of the arrivals' energy that it leaves
}

// guesses are the best ways to explain the arrivals, the best first, of each set
// of heads only the best loop.
func guesses(found []arrival, heads, most int) []guess {
	pool := slices.Clone(found[:min(len(found), max(guessFrom, heads))])
	slices.SortFunc(pool, func(a, b arrival) int { return cmp.Compare(a.at, b.at) })
	if len(pool) < heads {
		return nil
	}
	loudest := math.Abs(found[0].amp)
	var all []guess
	pick := make([]arrival, heads)
	var next func(from, k int)
	next = func(from, k int) {
		if k == heads {
			all = append(all, bestLoop(pool, slices.Clone(pick)))
			return
		}
		for i := from; i <= len(pool)-(heads-k); i++ {
			if k == 0 && i > 0 && outspokenBefore(pool, i, guessFirst*loudest) {
				break // nothing can repeat before the first head
			}
			pick[k] = pool[i]
			next(i+1, k+1)
		}
	}
	next(0, 0)
	slices.SortStableFunc(all, func(a, b guess) int { return cmp.Compare(a.miss, b.miss) })
	return all[:min(len(all), most)]
}

// like tells whether both have the same heads. Which of them feed the loop is left
// to the fit.
func (g guess) like(h guess) bool {
	return slices.EqualFunc(g.heads, h.heads, func(a, b arrival) bool { return math.Abs(a.at-b.at) < guessNear })
}

// outspokenBefore tells whether any of the first arrivals, of so many, is louder
// than that, and not just a shadow that a much louder one throws ahead while the
// carrier wavers.
func outspokenBefore(pool []arrival, first int, than float64) bool {
	return slices.ContainsFunc(pool[:first], func(a arrival) bool {
		return math.Abs(a.amp) > than && !slices.ContainsFunc(pool, func(b arrival) bool {
			return math.Abs(a.at-b.at) < guessShadow && math.Abs(b.amp) > guessShadowed*math.Abs(a.amp)
		})
	})
}

func bestLoop(pool, heads []arrival) guess {
	best := guess{heads: heads, feed: -1, miss: missed(pool, heads, 0, 0)}
	for feed, f := range heads {
		fed := turnOf(pool, heads, f.at)
		if fed == 0 || math.Abs(fed) > 1.1 {
			continue
		}
		if miss := missed(pool, heads, f.at, fed); miss < 0.8*best.miss {
			best = guess{heads, feed, fed, miss}
		}
	}
	return best
}

// turnOf is the ratio of what stands a turn after each head to the head, by least
// squares.
func turnOf(pool, heads []arrival, turn float64) float64 {
	up, down := 0.0, 0.0
	for _, h := range heads {
		up += h.amp * near(pool, h.at+turn)
		down += h.amp * h.amp
	}
	return up / down
}

// near is the amplitude of the arrival that stands at t, 0 if there is none.
func near(pool []arrival, t float64) float64 {
	best, off := 0.0, guessNear
	for _, a := range pool {
		if d := math.Abs(a.at - t); d < off {
			best, off = a.amp, d
		}
	}
	return best
}

// missed is the share of the arrivals' energy that heads and their repeats leave,
// with what they promise and is not there.
func missed(pool, heads []arrival, turn, fed float64) float64 {
	left := slices.Clone(pool)
	total, rest := 0.0, 0.0
	latest := pool[len(pool)-1].at
	for _, a := range pool {
		total += a.amp * a.amp
	}
	floor := guessFloor * math.Sqrt(total)
	for _, h := range heads {
		for t, amp := h.at, h.amp; t < latest+guessNear; t, amp = t+turn, amp*fed {
			rest += take(left, t, amp)
			if turn == 0 || math.Abs(amp*fed) < floor {
				break
			}
		}
	}
	for _, a := range left {
		rest += a.amp * a.amp
	}
	return rest / total
}

// take takes an echo off the arrival that stands there; without one its energy is
// missed.
func take(left []arrival, t, amp float64) float64 {
	best, off := -1, guessNear
	for i, a := range left {
		if d := math.Abs(a.at - t); d < off {
			best, off = i, d
		}
	}
	if best < 0 {
		return amp * amp
	}
	left[best].amp -= amp
	return 0
}
