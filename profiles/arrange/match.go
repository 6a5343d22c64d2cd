package arrange

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"echowright/preset"
)

// A pair is a wanted echo with the one it got, nil if there is none.
type pair struct {
	wanted preset.Echo
	got    *preset.Echo
}

// match gives every wanted echo the nearest one within half of the timing that
// is just noticed there, the nearest pairs first, each echo once. Where echoes lie
// close together the level tells them apart: matchLevel off counts as much as the
// whole of that time. What the device adds on top, down to the floor, is left over.
func match(wanted, got []preset.Echo) (pairs []pair, extra []preset.Echo) {
	type meeting struct {
		wanted, got int
		apart       float64
	}
	var near []meeting
	for i, e := range wanted {
		reach := preset.TimingJND(e.At) / 2
		from := sort.Search(len(got), func(j int) bool { return got[j].At >= e.At-reach })
		for j := from; j < len(got) && got[j].At <= e.At+reach; j++ {
			off := math.Abs(float64((got[j].At-e.At)/reach)) + math.Abs(float64((got[j].Level-e.Level)/matchLevel))
			near = append(near, meeting{i, j, off})
		}
	}
	slices.SortStableFunc(near, func(a, b meeting) int { return cmp.Compare(a.apart, b.apart) })
	pairs = make([]pair, len(wanted))
	for i, e := range wanted {
		pairs[i].wanted = e
	}
	taken := make([]bool, len(got))
	for _, m := range near {
		if pairs[m.wanted].got == nil && !taken[m.got] {
			pairs[m.wanted].got, taken[m.got] = &got[m.got], true
		}
	}
	for j, e := range got {
		if !taken[j] && e.Level >= preset.TrainFloor {
			extra = append(extra, e)
		}
	}
	return pairs, extra
}

// matchLevel is a level at which an echo is hardly taken for another one (common
// practice, no source).
const matchLevel preset.Decibels = 20

func listEchoes(pairs []pair) []Echo {
	list := make([]Echo, len(pairs))
	for i, p := range pairs {
		list[i] = Echo{At: p.wanted.At, Level: p.wanted.Level}
		if p.got != nil {
			at, level := p.got.At, p.got.Level
			list[i].GotAt, list[i].GotLevel = &at, &level
		}
	}
	return list
}

func listExtra(extra []preset.Echo) []Extra {
	list := make([]Extra, len(extra))
	for i, e := range extra {
		list[i] = Extra{At: e.At, Level: e.Level}
	}
	return list
}
