package arrange

import (
	"cmp"
	"math"
	"slices"

	"echowright/preset"
)

// reach is how many rungs from the nearest the levels of a draft may go: none
// where it is to stay as it is, one where its levels are those of the heads.
func (d *draft) reach() int {
	switch {
	case d.still:
		return 0
	case d.ideal != nil:
		return 1
	}
	return anyRung
}

const (
	// Errors below this (−35 dB) are so small that the worst echo counts.
	smallError = 3e-4
	// Loops whose pairs of feedback and cuts come near their gain are tried by so many.
	mostTruePairs = 12
)

// truest is the best way to round a draft that gives the whole pattern: with any
// pair of feedback and cuts that comes near its loop gain, its levels the nearest or
// one beside them, polished or not. Where the error is small anyhow the one is taken
// whose worst echo is the least off: none should drift.
func (x *search) truest(d draft) draft {
	var all []draft
	for _, other := range x.otherLoopsOf(d, mostTruePairs) {
		other.still = true
		x.setLevels(&other)
		all = append(all, other)
		other.still = false
		x.setLevels(&other)
		all = append(all, other)
		x.polish(&other)
		all = append(all, other)
	}
	for i := range all {
		all[i].worst = x.worst(all[i])
	}
	slices.SortStableFunc(all, compareTrue)
	return all[0]
}

// compareTrue orders by the error, but, where both are small, by what is off beyond
// what is tolerated, if anything.
func compareTrue(a, b draft) int {
	if a.cost < smallError && b.cost < smallError {
		if by := cmp.Compare(max(a.worst, 1), max(b.worst, 1)); by != 0 {
			return by
		}
	}
	return cmp.Compare(a.cost, b.cost)
}

// worst is how far the worst echo of a draft is off, in what is told of times and
// levels.
func (x *search) worst(d draft) float64 {
	got, err := x.deck.listen(d, x.wish.limit)
	if err != nil {
		return math.Inf(1)
	}
	pairs, _ := match(x.wish.train, got)
	worst := 0.0
	for _, p := range pairs {
		if p.got == nil {
			return math.Inf(1)
		}
		worst = max(worst, apartness(p.got.At-p.wanted.At, p.got.Level-p.wanted.Level))
	}
	return worst
}

func apartness(late preset.Millis, loud preset.Decibels) float64 {
	return max(math.Abs(float64(late/tellTime)), math.Abs(float64(loud/tellLevel)))
}
