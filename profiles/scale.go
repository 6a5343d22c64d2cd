package profiles

import (
	"math"
	"slices"
	"sort"
	"strconv"

	"echowright/preset"
)

// A Scale gives every code of a parameter its meaning. However a profile states
// it, it is worked out once into a table, so that both ways are one look-up and
// a scale of any shape is inverted by the same search.
type Scale struct {
	Name string
	// Unit is "ms", "dB", "Hz", "%", "BPM", "beats" (quarter notes, told as note
	// values) or "" for choices and plain numbers.
	Unit string
	Low  int // the least code

	values []float64  // by code − Low
	words  []string   // choices, by code − Low, "" for a hole; empty for a scale of numbers
	notes  []string   // note values, by code − Low; only where they are stated so
	silent codeRanges // −∞ dB
	off    codeRanges // takes the parameter out of the way
	holes  codeRanges // codes that mean nothing
	byRate bool       // nearest is judged by ratio (frequencies), not by difference
	rising []int      // codes with a number, in the order of their values
	turned []int      // codes whose amplitude is negative, in the order of their levels
}

// A Value is what a code means: a number in the scale's unit, or a word.
type Value struct {
	Number   float64
	Inverted bool   // an amplitude with its sign turned; Number is its level in dB
	Word     string // "silent", "off" or a choice; then Number means nothing
}

func (v Value) String() string {
	if v.Word != "" {
		return v.Word
	}
	s := strconv.FormatFloat(v.Number, 'f', -1, 64)
	if v.Inverted {
		s += " inverted"
	}
	return s
}

// The words that stand for a number in a scale of numbers.
const (
	WordSilent = "silent"
	WordOff    = "off"
)

// High is the greatest code.
func (s *Scale) High() int { return s.Low + max(len(s.values), len(s.words)) - 1 }

// Holds reports whether the parameter has that code and the code means something.
func (s *Scale) Holds(code int) bool {
	if code < s.Low || code > s.High() {
		return false
	}
	if len(s.words) > 0 {
		return s.words[code-s.Low] != ""
	}
	return !s.holes.hold(code)
}

// Value is the meaning of a code that the scale holds.
func (s *Scale) Value(code int) Value {
	switch {
	case len(s.words) > 0:
		return Value{Word: s.words[code-s.Low]}
	case s.silent.hold(code):
		return Value{Word: WordSilent}
	case s.off.hold(code):
		return Value{Word: WordOff}
	}
	return Value{Number: s.values[code-s.Low], Inverted: s.isTurned(code)}
}

func (s *Scale) isTurned(code int) bool {
	if len(s.turned) == 0 {
		return false
	}
	// Amplitudes rise or fall through the codes: the inverted ones stand together.
	a, b := s.turned[0], s.turned[len(s.turned)-1]
	return code >= min(a, b) && code <= max(a, b)
}

// Amplitude is the amplitude ratio that a code of a scale in dB stands for, with
// its sign; 0 where it is silent or off.
func (s *Scale) Amplitude(code int) float64 {
	v := s.Value(code)
	if v.Word != "" {
		return 0
	}
	a := preset.Decibels(v.Number).Amplitude()
	if v.Inverted {
		return -a
	}
	return a
}

// Range is the least and the greatest number of a scale of numbers.
func (s *Scale) Range() (low, high float64) {
	if len(s.rising) == 0 {
		return 0, 0
	}
	return s.number(s.rising[0]), s.number(s.rising[len(s.rising)-1])
}

func (s *Scale) number(code int) float64 { return s.values[code-s.Low] }

// Nearest is the code whose number lies nearest to v; of two equally near ones
// the lower code. For frequencies it is nearest by ratio. It never gives the
// silent or the off code, nor an inverted one: see Silent, Off, NearestInverted.
func (s *Scale) Nearest(v float64) int {
	if len(s.rising) == 0 {
		return s.Low
	}
	return s.nearest(s.rising, v)
}

// NearestInverted is Nearest among the codes that turn the sign; false where
// there is none.
func (s *Scale) NearestInverted(v float64) (code int, ok bool) {
	if len(s.turned) == 0 {
		return 0, false
	}
	return s.nearest(s.turned, v), true
}

func (s *Scale) nearest(codes []int, v float64) int {
	i := s.atMost(codes, v)
	if i+1 == len(codes) {
		return codes[i]
	}
	a, b := s.distance(v, codes[i]), s.distance(v, codes[i+1])
	if b < a || b == a && codes[i+1] < codes[i] {
		return codes[i+1]
	}
	return codes[i]
}

// AtMost is the code with the greatest number not above v, or the code with the
// least number where all lie above.
func (s *Scale) AtMost(v float64) int {
	if len(s.rising) == 0 {
		return s.Low
	}
	return s.rising[s.atMost(s.rising, v)]
}

func (s *Scale) atMost(codes []int, v float64) int {
	i := sort.Search(len(codes), func(i int) bool { return s.number(codes[i]) > v })
	return max(i-1, 0)
}

func (s *Scale) distance(v float64, code int) float64 {
	n := s.number(code)
	if s.byRate && v > 0 && n > 0 {
		return math.Abs(math.Log(n / v))
	}
	return math.Abs(n - v)
}

// Rising is the codes that stand for a number, in the order of their numbers;
// of codes that mean the same the first. Inverted ones are not among them.
func (s *Scale) Rising() []int { return slices.Clone(s.rising) }

// Inverted is the same for the codes that turn the sign.
func (s *Scale) Inverted() []int { return slices.Clone(s.turned) }

// Silent is the code for no sound at all.
func (s *Scale) Silent() (code int, ok bool) { return s.silent.first() }

// Off is the code that takes the parameter out of the way.
func (s *Scale) Off() (code int, ok bool) { return s.off.first() }

// Numbers is the first and the last code that stands for a number.
func (s *Scale) Numbers() (first, last int) {
	if len(s.rising)+len(s.turned) == 0 {
		return s.Low, s.Low - 1
	}
	first, last = math.MaxInt, math.MinInt
	for _, codes := range [][]int{s.rising, s.turned} {
		for _, c := range codes {
			first, last = min(first, c), max(last, c)
		}
	}
	return first, last
}

// Choose is the code of a choice: the first of the codes that mean it.
func (s *Scale) Choose(word string) (code int, ok bool) {
	i := slices.Index(s.words, word)
	return s.Low + i, i >= 0 && word != ""
}

// Note is the note value that a code stands for, as the profile writes it; ""
// where the scale has none.
func (s *Scale) Note(code int) string {
	if len(s.notes) == 0 {
		return ""
	}
	return s.notes[code-s.Low]
}

// Words are the choices in order of their codes; none for a scale of numbers.
func (s *Scale) Words() []string {
	var all []string
	for _, w := range s.words {
		if w != "" && !slices.Contains(all, w) {
			all = append(all, w)
		}
	}
	return all
}

// WorstRounding is half of the widest step between neighbouring numbers.
func (s *Scale) WorstRounding() float64 {
	_, widest := s.Steps()
	return widest / 2
}

// Steps is the narrowest and the widest step between neighbouring numbers; 0
// where there is but one.
func (s *Scale) Steps() (narrowest, widest float64) {
	for _, codes := range [][]int{s.rising, s.turned} {
		for i := 1; i < len(codes); i++ {
			step := s.number(codes[i]) - s.number(codes[i-1])
			if widest == 0 || step < narrowest {
				narrowest = step
			}
			widest = max(widest, step)
		}
	}
	return narrowest, widest
}
