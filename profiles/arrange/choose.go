package arrange

import (
	"cmp"
	"slices"
)

// A choice is a set of voices, one for each line in use, with the levels (as
// amplitude ratios, never negative) at which they come nearest to the wish.
type choice struct {
	voices []int // sorted: a voice stands after its source
	levels []float64
	cost   float64 // squared error over squared wish; 1 is what silence would get
	finer  float64 // the part of cost that the pattern error does not see
}

const (
	// What the pattern error does not see still counts a little: where it is the
	// same, the right signs and the right tone are taken.
	finerWorth = 1e-3
	// A timbre this far beyond what is told counts (times finerWorth) like an echo
	// that is missing.
	timbreWorth = 6.0 // dB
	// A line is used only if the cost falls by this much (−70 dB), one that feeds
	// itself by a tenth more. One that does what no head of the unit does, to make up
	// for what cannot be had, must be of some use (−40 dB).
	lineWorth     = 1e-7
	loopWorth     = 1e-8
	makeshiftCost = 1e-4
	// How many sets of one size are followed up.
	breadth = 30
)

// The curves by which voices are compared.
func wanted(v voice) []float64  { return v.wanted }
func rounded(v voice) []float64 { return v.curve }

// sums are the products that squared errors are made of:
//
//	cost = (own − 2·wish·levels + levels'·pairs·levels) / power
type sums struct {
	pairs [][]float64
	wish  []float64
	own   float64
	power float64
}

func (w *wish) sums(voices []voice, curve func(voice) []float64) (all, plain sums) {
	n := len(voices)
	plain = sums{pairs: square(n), wish: make([]float64, n), own: w.power, power: w.power}
	all = sums{pairs: square(n), wish: make([]float64, n), own: w.power + finerWorth*dot(w.signed, w.signed), power: w.power}
	for i, v := range voices {
		plain.wish[i] = dot(w.plain, curve(v))
		all.wish[i] = plain.wish[i] + finerWorth*signed(dot(w.signed, curve(v)), v.inverted)
		for j, u := range voices[:i+1] {
			p := dot(curve(v), curve(u))
			q := signed(p, v.inverted != u.inverted)
			plain.pairs[i][j], plain.pairs[j][i] = p, p
			all.pairs[i][j], all.pairs[j][i] = p+finerWorth*q, p+finerWorth*q
		}
		off := max(0, v.given.minus(v.timbre).off()-tellTimbre) / timbreWorth
		all.pairs[i][i] += finerWorth * off * off * plain.pairs[i][i]
	}
	return all, plain
}

func signed(v float64, inverted bool) float64 {
	if inverted {
		return -v
	}
	return v
}

func square(n int) [][]float64 {
	rows := make([][]float64, n)
	for i := range rows {
		rows[i] = make([]float64, n)
	}
	return rows
}

// fit finds the levels of the chosen voices for which the cost is least, none of
// them negative: where one comes out so, the most negative voice is silenced and
// the others are solved for again.
func (s sums) fit(chosen []int) []float64 {
	levels := make([]float64, len(chosen))
	loud := make([]int, len(chosen)) // places in chosen
	for i := range loud {
		loud[i] = i
	}
	for len(loud) > 0 {
		solved := s.solve(chosen, loud)
		least := 0
		for i, l := range solved {
			if l < solved[least] {
				least = i
			}
		}
		if solved[least] >= 0 {
			for i, place := range loud {
				levels[place] = solved[i]
			}
			break
		}
		loud = slices.Delete(loud, least, least+1)
	}
	return levels
}

// solve gives the levels, of any sign, of the voices at the places that are loud:
// Gaussian elimination of a matrix that is symmetric and has no negative
// eigenvalue. Voices that play the same, whose pivot is next to nothing, get none.
func (s sums) solve(chosen, loud []int) []float64 {
	const nothing = 1e-10
	n := len(loud)
	rows := make([][]float64, n)
	for i, p := range loud {
		rows[i] = make([]float64, n+1)
		for j, q := range loud {
			rows[i][j] = s.pairs[chosen[p]][chosen[q]]
		}
		rows[i][n] = s.wish[chosen[p]]
	}
	for i := range n {
		if rows[i][i] <= nothing*s.pairs[chosen[loud[i]]][chosen[loud[i]]] {
			rows[i] = make([]float64, n+1)
			rows[i][i] = 1
			continue
		}
		for j := i + 1; j < n; j++ {
			factor := rows[j][i] / rows[i][i]
			for c := i; c <= n; c++ {
				rows[j][c] -= factor * rows[i][c]
			}
		}
	}
	levels := make([]float64, n)
	for i := n - 1; i >= 0; i-- {
		sum := rows[i][n]
		for j := i + 1; j < n; j++ {
			sum -= rows[i][j] * levels[j]
		}
		levels[i] = sum / rows[i][i]
	}
	return levels
}

func (s sums) cost(chosen []int, levels []float64) float64 {
	sum := s.own
	for i, v := range chosen {
		sum -= 2 * levels[i] * s.wish[v]
		for j, u := range chosen {
			sum += levels[i] * levels[j] * s.pairs[v][u]
		}
	}
	return sum / s.power
}

// choose finds the best sets of at most lines voices, the best first: of voices
// that do what a head does, and, if those do not give every echo, of all.
func (w *wish) choose(voices []voice, curve func(voice) []float64, lines, most int) []choice {
	if w.power == 0 {
		return nil
	}
	g := &growth{voices: voices, lines: lines, most: most}
	g.all, g.plain = w.sums(voices, curve)
	best := g.sets(false)
	if best[0].cost < exactCost {
		return best[:1]
	}
	best = append(best, g.sets(true)...)
	slices.SortStableFunc(best, byCost)
	best = slices.CompactFunc(best, func(a, b choice) bool { return slices.Equal(a.voices, b.voices) })
	return best[:min(most, len(best))]
}

// growth is the search for sets of voices.
type growth struct {
	voices      []voice
	all, plain  sums
	lines, most int
}

// sets grow by one voice (and the sources it cannot do without) at a time; of each
// size the best are followed up, which for few lines and heads are nearly all.
func (g *growth) sets(makeshift bool) []choice {
	seen := map[setKey]bool{}
	var best []choice
	sizes := make([][]choice, g.lines+1)
	sizes[0] = []choice{g.choice(nil)}
	for size := range sizes {
		grown := top(sizes[size], breadth)
		best = top(append(best, grown...), g.most)
		for _, c := range grown {
			for _, v := range g.voices {
				set, ok := union(c.voices, v.needs, g.lines)
				if !ok || v.makeshift && !makeshift || seen[keyOf(set)] {
					continue
				}
				seen[keyOf(set)] = true
				sizes[len(set)] = append(sizes[len(set)], g.choice(set))
			}
		}
	}
	return best
}

func (g *growth) choice(set []int) choice {
	levels := g.all.fit(set)
	c := choice{voices: set, levels: levels, cost: g.all.cost(set, levels) + effort(g.voices, set)}
	c.finer = c.cost - g.plain.cost(set, levels)
	return c
}

// effort is what the lines of a set cost.
func effort(voices []voice, set []int) float64 {
	sum := 0.0
	for _, v := range set {
		sum += lineWorth
		if voices[v].loop > 0 {
			sum += loopWorth
		}
		if voices[v].makeshift {
			sum += makeshiftCost
		}
	}
	return sum
}

// top is the n choices of the least cost, the best first; of equal ones those
// that were found first.
func top(choices []choice, n int) []choice {
	slices.SortStableFunc(choices, byCost)
	return choices[:min(n, len(choices))]
}

func byCost(a, b choice) int { return cmp.Compare(a.cost, b.cost) }

// union joins two sorted sets; not ok if nothing is new or there is too much.
func union(set, more []int, most int) (joined []int, ok bool) {
	joined = slices.Clone(set)
	for _, v := range more {
		if !slices.Contains(set, v) {
			joined = append(joined, v)
		}
	}
	slices.Sort(joined)
	return joined, len(joined) > len(set) && len(joined) <= most
}

// setKey has a bit for each voice.
type setKey [mostVoices/64 + 1]uint64

func keyOf(set []int) (key setKey) {
	for _, v := range set {
		key[v/64] |= 1 << (v % 64)
	}
	return key
}
