package arrange

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"echowright/preset"
	"echowright/profiles"
)

// A ladder is the codes of a parameter in the order of what they do: whichever way
// its scale runs and wherever it has codes for nothing.
type ladder []rung

type rung struct {
	code  int
	value float64 // ms, or an amplitude ratio
}

// times is the ladder of a time in ms.
func times(s *profiles.Scale) ladder {
	var l ladder
	for c := s.Low; c <= s.High(); c++ {
		if !s.Holds(c) {
			continue
		}
		if v := s.Value(c); v.Word == "" && v.Number > 0 {
			l = append(l, rung{c, v.Number})
		}
	}
	return l.sorted()
}

// amplitudes is the ladder of a level or a feedback, from silence (where there is
// a code for it) up to most.
func amplitudes(s *profiles.Scale, most float64) ladder {
	var l ladder
	for c := s.Low; c <= s.High(); c++ {
		if !s.Holds(c) {
			continue
		}
		v := s.Value(c)
		a := preset.Decibels(v.Number).Amplitude()
		switch {
		case v.Word == profiles.WordSilent:
			a = 0
		case v.Word != "" || v.Inverted:
			continue
		}
		if a <= most {
			l = append(l, rung{c, a})
		}
	}
	return l.sorted()
}

// turned is the ladder of a feedback that turns the sign, by what it leaves without
// it; empty where there is none.
func turned(s *profiles.Scale, most float64) ladder {
	var l ladder
	for _, c := range s.Inverted() {
		if a := -s.Amplitude(c); a <= most {
			l = append(l, rung{c, a})
		}
	}
	return l.sorted()
}

// sorted also leaves only the first of codes that do the same.
func (l ladder) sorted() ladder {
	slices.SortStableFunc(l, func(a, b rung) int { return cmp.Compare(a.value, b.value) })
	return slices.CompactFunc(l, func(a, b rung) bool { return a.value == b.value })
}

// nearest is the place of the rung nearest to v, of two the lower one.
func (l ladder) nearest(v float64) int {
	i := sort.Search(len(l), func(i int) bool { return l[i].value >= v })
	switch {
	case i == len(l):
		return len(l) - 1
	case i > 0 && v-l[i-1].value <= l[i].value-v:
		return i - 1
	}
	return i
}

// atMost is the place of the highest rung not above v, −1 if there is none.
func (l ladder) atMost(v float64) int {
	return sort.Search(len(l), func(i int) bool { return l[i].value > v }) - 1
}

// place is that of a code, −1 if the ladder leaves it out.
func (l ladder) place(code int) int {
	return slices.IndexFunc(l, func(r rung) bool { return r.code == code })
}

func (l ladder) top() float64 { return l[len(l)-1].value }

// audible is the value of the lowest rung that is not silent.
func (l ladder) audible() float64 {
	for _, r := range l {
		if r.value > 0 {
			return r.value
		}
	}
	return math.Inf(1)
}

// step is the least distance of two rungs.
func (l ladder) step() float64 {
	least := math.Inf(1)
	for i := 1; i < len(l); i++ {
		least = min(least, l[i].value-l[i-1].value)
	}
	return least
}
