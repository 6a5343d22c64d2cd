package profiles

import (
	"math"
	"slices"
	"sort"
	"strconv"
)

// A Scale gives every code of a parameter its meaning. However a profile states
// it, it is worked out once into a table, so that both ways are one look-up and
// a scale of any shape is inverted by the same search.
type Scale struct {
	Name   string
	Unit   string // "ms", "dB", "Hz", "%" or "" for choices and plain numbers
	Low    int    // the least code
	values []float64
	words  []string // choices, by code − Low; empty for a scale of numbers
	silent int      // code that stands for −∞ dB, noCode if none
	off    int      // code that takes the parameter out of the way, noCode if none
	byRate bool     // nearest is judged by ratio (frequencies), not by difference
	falls  bool     // values fall as codes rise
	first  int      // the codes with a number: first … last
	last   int
}

const noCode = math.MinInt

// A Value is what a code means: a number in the scale's unit, or a word.
type Value struct {
	Number float64
	Word   string // "silent", "off" or a choice; then Number means nothing
}

func (v Value) String() string {
	if v.Word != "" {
		return v.Word
	}
	return strconv.FormatFloat(v.Number, 'f', -1, 64)
}

// The words that stand for a number in a scale of numbers.
const (
	WordSilent = "silent"
	WordOff    = "off"
)

// High is the greatest code.
func (s *Scale) High() int { return s.Low + max(len(s.values), len(s.words)) - 1 }

// Holds reports whether the parameter has that code.
func (s *Scale) Holds(code int) bool { return code >= s.Low && code <= s.High() }

// Value is the meaning of a code that the scale holds.
func (s *Scale) Value(code int) Value {
	switch {
	case len(s.words) > 0:
		return Value{Word: s.words[code-s.Low]}
	case code == s.silent:
		return Value{Word: WordSilent}
	case code == s.off:
		return Value{Word: WordOff}
	}
	return Value{Number: s.values[code-s.Low]}
}

// Range is the least and the greatest number of a scale of numbers.
func (s *Scale) Range() (low, high float64) {
	a, b := s.values[s.first-s.Low], s.values[s.last-s.Low]
	return min(a, b), max(a, b)
}

// Nearest is the code whose number lies nearest to v; of two equally near ones
// the lower code. For frequencies it is nearest by ratio. It never gives the
// silent or the off code: see Silent and Off.
func (s *Scale) Nearest(v float64) int {
	below := s.AtMost(v)
	above := below + 1
	if s.falls {
		above = below - 1
	}
	if above < s.first || above > s.last {
		return below
	}
	a, b := s.distance(v, below), s.distance(v, above)
	if b < a || b == a && above < below {
		return above
	}
	return below
}

// AtMost is the code with the greatest number not above v, or the code with the
// least number where all lie above.
func (s *Scale) AtMost(v float64) int {
	n := s.last - s.first + 1
	numbers := s.values[s.first-s.Low:]
	if s.falls {
		i := sort.Search(n, func(i int) bool { return numbers[i] <= v })
		return s.first + min(i, n-1)
	}
	i := sort.Search(n, func(i int) bool { return numbers[i] > v })
	return s.first + max(i-1, 0)
}

func (s *Scale) distance(v float64, code int) float64 {
	n := s.values[code-s.Low]
	if s.byRate && v > 0 && n > 0 {
		return math.Abs(math.Log(n / v))
	}
	return math.Abs(n - v)
}

// Silent is the code for no sound at all.
func (s *Scale) Silent() (code int, ok bool) { return s.silent, s.silent != noCode }

// Off is the code that takes the parameter out of the way.
func (s *Scale) Off() (code int, ok bool) { return s.off, s.off != noCode }

// Numbers is the first and the last code that stands for a number.
func (s *Scale) Numbers() (first, last int) { return s.first, s.last }

// Choose is the code of a choice.
func (s *Scale) Choose(word string) (code int, ok bool) {
	i := slices.Index(s.words, word)
	return s.Low + i, i >= 0
}

// Words are the choices in order of their codes; none for a scale of numbers.
func (s *Scale) Words() []string { return slices.Clone(s.words) }

// WorstRounding is half of the widest step between neighbouring numbers.
func (s *Scale) WorstRounding() float64 {
	worst := 0.0
	for c := s.first; c < s.last; c++ {
		worst = max(worst, math.Abs(s.values[c+1-s.Low]-s.values[c-s.Low])/2)
	}
	return worst
}
