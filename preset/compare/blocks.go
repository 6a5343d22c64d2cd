package compare

import (
	"cmp"
	"math"
	"slices"

	"echowright/preset/fastlength"
)

// A found block of A lies lag samples later in B than where it was looked for.
type found struct {
	at, lag, weight float64
	inverted        bool
}

// findBlocks looks for blocks of a in b, near lag.
func findBlocks(a, b [][]float64, lag, rate float64, most int) []found {
	var all []found
	louder := power(b) / math.Max(power(a), 1e-300)
	for _, block := range onsets(a, rate, most) {
		if f, ok := findBlock(a, b, block, rate, louder, int(lag)); ok {
			all = append(all, f)
		}
	}
	return all
}

// An onset is where a block begins. Novel ones come out of what was softer before:
// notes, where others may be echoes of them.
type onset struct {
	at, size int
	worth    float64
}

// onsets are the steepest rises of the loudest half seconds, most at the most. A
// block that begins before the sound does has it whole.
func onsets(channels [][]float64, rate float64, most int) []onset {
	frame, cell := int(frameTime*rate), int(blockTime/frameTime)
	e := make([]float64, len(channels[0])/frame)
	for _, x := range channels {
		for i, v := range blockEnergies(x, frame) {
			e[i] += v
		}
	}
	var all []onset
	for from := 0; from < len(e); from += cell {
		to := min(len(e), from+cell)
		best, rise := from, -1.0
		for i := from; i < to; i++ {
			if r := e[i] - e[max(0, i-1)]; r > rise {
				best, rise = i, r
			}
		}
		sound := sum(e[best:min(len(e), best+cell)])
		if sound <= 0 {
			continue
		}
		before := greatest(e[max(0, best-2*cell):max(0, best-1)])
		after := greatest(e[best:min(len(e), best+4)])
		novel := math.Max(0, 1-4*before/after)
		size := blockTime * rate
		if novel > 0.5 { // before an echo may come
			size = attackTime * rate
		}
		all = append(all, onset{at: max(0, (best-2)*frame), size: int(size), worth: math.Sqrt(sound) * (1 + novelty*novel)})
	}
	slices.SortStableFunc(all, func(a, b onset) int { return cmp.Compare(b.worth, a.worth) })
	return all[:min(most, len(all))]
}

// greatest is 0 of none.
func greatest(x []float64) float64 { return slices.Max(append([]float64{0}, x...)) }

func sum(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s
}

// findBlock correlates a block with every place of b within reach of where it is
// looked for. A place where b is soft is not scaled up: of a tone that dies away,
// every wave is like the one before but for that. Louder is how much more energy B
// has than A on the whole.
func findBlock(a, b [][]float64, o onset, rate, louder float64, lag int) (found, bool) {
	size, reach := min(o.size, len(a[0])-o.at), int(searchTime*rate)
	n := fastlength.From(2 * (size + reach))
	for !fastlength.Is(closer * n) {
		n = fastlength.From(n + 1)
	}
	cross := make([]float64, closer*n)
	here := 0.0
	there := make([]float64, size+2*reach+1) // energy of b up to each sample
	for c := range a {
		x := a[c][o.at : o.at+size]
		y := stretch(b[c], o.at+lag-reach, size+2*reach)
		here += energy(x)
		for i, v := range correlation(x, y, n, closer) {
			cross[i] += v
		}
		e := 0.0
		for i, v := range y {
			e += v * v
			there[i+1] += e
		}
	}
	// Where B is softer than A would be, it is no more alike for it: or a part of a
	// note would do for the whole, and silence for anything.
	least := here * louder
	best, bestAt := 0.0, -1
	for l, v := range cross[:2*reach*closer+1] {
		k := l / closer
		if r := v / math.Sqrt(here*math.Max(least, there[k+size]-there[k])+1e-300); math.Abs(r) > math.Abs(best) {
			best, bestAt = r, l
		}
	}
	if bestAt < 0 {
		return found{}, false
	}
	return found{at: float64(o.at) + float64(size)/2, lag: float64(bestAt)/closer - float64(reach), weight: best * best * o.worth, inverted: best < 0}, true
}

// stretch is n samples of x from the given one on, silent beyond its ends.
func stretch(x []float64, from, n int) []float64 {
	out := make([]float64, n)
	if start := max(0, -from); start < n && from+start < len(x) {
		copy(out[start:], x[from+start:])
	}
	return out
}
