package compare

import (
	"fmt"
	"math"
)

// Two takes are of one playing where the whole of them correlates by matchWhole or
// more, or where matchShare of A's energy lies in blocks that correlate by
// matchBlock with B as it lies: the direct sound of two machines whose echoes
// differ. If A holds sound for longer than the echoes of one note last, those
// blocks must be spread in time by matchSpread of what its sound is: one note that
// two tunes have in common is no match. The figures were set by what takes of other
// tunes and of noise reach, see the test.
const (
	matchWhole  = 0.5
	matchBlock  = 0.85
	matchShare  = 0.15
	matchSpread = 0.25
	noteSpread  = 1.0 // s, standard deviation: what one note and its echoes reach
)

// A likeness says how far two takes are alike as they lie.
type likeness struct {
	whole  float64 // their correlation
	share  float64 // of A's energy, in blocks that are alike
	spread float64 // standard deviation in time of those blocks, to that of A's sound
	long   bool    // A's sound lasts longer than the echoes of one note
}

// match refuses takes that are not of one playing.
func (f fit) match(energyOfA float64) error {
	l := f.likeness(energyOfA)
	alike := l.share >= matchShare && (!l.long || l.spread >= matchSpread)
	if l.whole >= matchWhole || alike {
		return nil
	}
	return &Refusal{Reason: NoMatch, Detail: fmt.Sprintf(
		"where they are most alike they correlate by %.2f, wanted %.2f; %.0f %% of A's sound is found in B, wanted %.0f %%, spread over %.0f %% of its time, wanted %.0f %%",
		math.Max(0, l.whole), matchWhole, 100*l.share, 100*matchShare, 100*l.spread, 100*matchSpread)}
}

// likeness looks at pairs of blocks, so that a single wave is no match.
func (f fit) likeness(energyOfA float64) likeness {
	var whole sums
	var all, alike moments
	sign := math.Copysign(1, f.gain)
	for k := 0; k+1 < len(f.blocks); k += 2 {
		s := f.blocks[k].with(f.blocks[k+1])
		whole = whole.with(s)
		all.add(float64(k), s.aa)
		if s.aa > 0 && s.bb > 0 && sign*s.ab >= matchBlock*math.Sqrt(s.aa*s.bb) {
			alike.add(float64(k), s.aa)
		}
	}
	if whole.aa == 0 || whole.bb == 0 {
		return likeness{}
	}
	return likeness{
		whole: sign * whole.ab / math.Sqrt(whole.aa*whole.bb), share: alike.weight / energyOfA,
		spread: alike.deviation() / math.Max(all.deviation(), 1e-9), long: all.deviation()*fineTime > noteSpread,
	}
}

// moments of values with weights.
type moments struct{ weight, first, second float64 }

func (m *moments) add(v, weight float64) {
	m.weight, m.first, m.second = m.weight+weight, m.first+weight*v, m.second+weight*v*v
}

func (m moments) deviation() float64 {
	if m.weight == 0 {
		return 0
	}
	mean := m.first / m.weight
	return math.Sqrt(math.Max(0, m.second/m.weight-mean*mean))
}

// evidence is how much likelier A is with B beside it than without, as a logarithm.
// The beginning of a note that comes out of softer sound in both counts more: two
// machines can have an echo more in common than all else, but what comes first is no
// echo.
func (f fit) evidence(floor float64) float64 {
	sum := 0.0
	for k, s := range f.blocks {
		if s.n > 0 {
			gain := math.Log((s.aa/s.n + floor) / (math.Min(s.aa, s.left(f.gain, 0))/s.n + floor))
			sum += f.worth[k] * s.n * gain
		}
	}
	return sum
}

// novel is 1 for a block much louder than all of the second before, down to 0 for
// one with four times the energy of it or less; what belongs to the same attack is
// left out.
func novel(k int, blocks []sums, of func(sums) float64) float64 {
	const second, attack = int(1 / fineTime), int(attackTime / fineTime)
	before := 0.0
	for i := max(0, k-second); i < k-attack+1; i++ {
		before = math.Max(before, of(blocks[i]))
	}
	if here := of(blocks[k]); here > 0 {
		return math.Max(0, 1-4*before/here)
	}
	return 0
}

func ofA(s sums) float64 { return s.aa }
func ofB(s sums) float64 { return s.bb }

func (s sums) with(o sums) sums {
	return sums{s.n + o.n, s.aa + o.aa, s.ab + o.ab, s.bb + o.bb, s.ad + o.ad, s.bd + o.bd, s.dd + o.dd}
}
