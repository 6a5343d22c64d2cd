package measure

import (
	"cmp"
	"math"
	"slices"
)

// hypothesis says which arrivals are the first echoes of the heads, and which
// heads feed the loop.
type hypothesis struct {
	heads []arrival // in order of delay
	feeds []int
	loop  float64
	miss  float64 // share of the arrivals' energy that it does not explain
}

// hypotheses are the best few ways to explain the arrivals by so many heads.
func hypotheses(found []arrival, heads, most int, until float64) []hypothesis {
	if len(found) < heads {
		return nil
	}
	sorted := slices.Clone(found[:min(len(found), heads+moreArrivals)])
	slices.SortStableFunc(sorted, func(a, b arrival) int { return cmp.Compare(a.at, b.at) })
	var best []hypothesis
	ways := waysToFeed(heads)
	own := make([]arrival, heads)
	choose(sorted, heads, func(set []arrival) {
		for _, feeds := range ways {
			copy(own, set)
			h := hypothesis{heads: own, feeds: feeds}
			h.judge(sorted, until)
			if len(feeds) > 0 && math.Abs(h.loop) < weakLoop {
				continue // the same without the loop is tried as well
			}
			if len(best) < most || h.miss < best[most-1].miss {
				h.heads = slices.Clone(own)
				best = insert(best, h, most)
			}
		}
	})
	return best
}

// waysToFeed lists the loops that are tried: none, each head alone, all heads.
func waysToFeed(heads int) [][]int {
	ways := [][]int{nil}
	var all []int
	for k := range heads {
		ways = append(ways, []int{k})
		all = append(all, k)
	}
	if heads > 1 {
		ways = append(ways, all)
	}
	return ways
}

// choose calls use with every choice of n out of from, in order.
func choose(from []arrival, n int, use func([]arrival)) {
	chosen := make([]arrival, 0, n)
	var next func(i int)
	next = func(i int) {
		if len(chosen) == n {
			use(chosen)
			return
		}
		for ; i <= len(from)-(n-len(chosen)); i++ {
			chosen = append(chosen, from[i])
			next(i + 1)
			chosen = chosen[:len(chosen)-1]
		}
	}
	next(0)
}

// insert keeps the best few in order, at most waysKept of them with the same heads.
func insert(best []hypothesis, h hypothesis, most int) []hypothesis {
	place, alike := 0, 0
	for _, b := range best {
		if b.miss > h.miss {
			break
		}
		place++
		if b.sameHeads(h) {
			alike++
		}
	}
	if place >= most || alike >= waysKept {
		return best
	}
	best = slices.Insert(best, place, h)
	for i := place + 1; i < len(best); i++ {
		if best[i].sameHeads(h) {
			if alike++; alike >= waysKept {
				best = slices.Delete(best, i, i+1)
				break
			}
		}
	}
	return best[:min(len(best), most)]
}

// Beyond the heads, that many arrivals are asked for their head or repeat: the
// loudest. With more, the ways to choose would be without number.
const moreArrivals = 7

// costOfLoop is what a loop has to explain more than none does, as a share of all.
const costOfLoop = 1e-3

// Heads stand some way apart: what seems to come so soon (s) after another echo is
// rather that one's own shape. It has to explain so much more, as a share of all.
const (
	crowded     = 0.012
	costOfCrowd = 0.1
)

// mostTurns are the turns of the loop that are followed.
const mostTurns = 60

// waysKept is how many ways to feed the loop are kept for the same heads.
const waysKept = 2

func (h hypothesis) sameHeads(o hypothesis) bool {
	for k := range h.heads {
		if math.Abs(h.heads[k].at-o.heads[k].at) > sameHead {
			return false
		}
	}
	return true
}

// sameHead is by how much arrivals may differ to stand for the same head, s.
const sameHead = 0.001

// judge sets the loop's gain and how much of what was found stays unexplained.
func (h *hypothesis) judge(found []arrival, until float64) {
	shares := h.machine().shares()
	h.loop = h.firstTurn(found, shares)
	h.uncover(shares)
	predicted := h.train(shares, until)
	explained := make([]float64, len(found))
	total, miss := 0.0, 0.0
	for _, p := range predicted {
		if i := matching(found, p.at); i >= 0 {
			explained[i] += p.amp
		} else if math.Abs(p.amp) > faintest {
			miss += p.amp * p.amp
		}
	}
	for i, f := range found {
		total += f.amp * f.amp
		miss += (f.amp - explained[i]) * (f.amp - explained[i])
	}
	h.miss = miss / total
	if len(h.feeds) > 0 {
		h.miss += costOfLoop
	}
	for k := 1; k < len(h.heads); k++ {
		if h.heads[k].at-h.heads[k-1].at < crowded {
			h.miss += costOfCrowd
		}
	}
}

// firstTurn is the loop gain that explains best what stands one turn after the
// heads' first echoes, where that is no head's place itself.
func (h *hypothesis) firstTurn(found []arrival, shares []float64) float64 {
	once := make([]float64, len(found)) // what a gain of 1 would put at each arrival
	above, below := 0.0, 0.0
	for _, j := range h.feeds {
		for _, k := range h.heads {
			at, amp := k.at+h.heads[j].at, k.amp*shares[j]
			if matching(h.heads, at) >= 0 {
				continue
			}
			if i := matching(found, at); i >= 0 {
				once[i] += amp
			} else {
				below += amp * amp
			}
		}
	}
	for i, o := range once {
		above += o * found[i].amp
		below += o * o
	}
	if below == 0 {
		return 0
	}
	return math.Max(-1, math.Min(1, above/below))
}

// uncover takes from the heads' first echoes what repeats of nearer heads add to
// them, where they fall together.
func (h *hypothesis) uncover(shares []float64) {
	last := h.heads[len(h.heads)-1].at
	for k := range h.heads {
		if k == 0 || h.loop == 0 {
			continue
		}
		nearer := hypothesis{heads: h.heads[:k], loop: h.loop}
		for _, j := range h.feeds {
			if j < k {
				nearer.feeds = append(nearer.feeds, j)
			}
		}
		for _, p := range nearer.train(shares, last+0.01) {
			if p.turn > 0 && matching(h.heads[k:k+1], p.at) >= 0 {
				h.heads[k].amp -= p.amp
			}
		}
	}
}

// matching is the index of the arrival at that time, give or take what wow and a
// dull tone may shift it, or −1.
func matching(found []arrival, at float64) int {
	best, off := -1, 0.001+0.003*at
	for i, f := range found {
		if d := math.Abs(f.at - at); d < off {
			best, off = i, d
		}
	}
	return best
}

// train lists the echoes that the hypothesis predicts.
func (h *hypothesis) train(shares []float64, until float64) []arrival {
	memory := []arrival{{amp: 1}}
	for i := 0; i < len(memory) && len(memory) < mostTurns; i++ {
		for _, j := range h.feeds {
			next := arrival{memory[i].at + h.heads[j].at, memory[i].amp * h.loop * shares[j], memory[i].turn + 1}
			if next.at < until && math.Abs(next.amp) > faintest/3 {
				memory = append(memory, next)
			}
		}
	}
	var echoes []arrival
	for _, m := range memory {
		for _, k := range h.heads {
			if at := m.at + k.at; at < until {
				echoes = append(echoes, arrival{at, m.amp * k.amp, m.turn})
			}
		}
	}
	return echoes
}

// machine is what the fit starts from.
func (h *hypothesis) machine() machine {
	m := machine{feeds: h.feeds, loop: h.loop}
	for _, k := range h.heads {
		m.delay = append(m.delay, k.at)
		m.gain = append(m.gain, k.amp)
	}
	return m
}
