package profiles

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"

	"echowright/preset"
)

// maxCodes bounds a scale: three 7-bit bytes.
const maxCodes = 1 << 21

// scaleFile is a scale as the profile states it. Exactly one of the shapes is
// given; all are functions of the code.
type scaleFile struct {
	Unit       string     `toml:"unit"`
	SampleRate float64    `toml:"sample_rate_hz"` // where the unit is samples
	Codes      []int      `toml:"codes"`          // [least, greatest]
	Silent     codeRanges `toml:"silent"`         // the codes for no sound
	Off        codeRanges `toml:"off"`            // the codes that take it out of the way
	Holes      codeRanges `toml:"holes"`          // codes that mean nothing and are never sent
	Same       codeRanges `toml:"same"`           // ranges in which all mean what the first means

	shapesFile
	Choices []string   `toml:"choices"`
	Ranges  codeRanges `toml:"ranges"` // the codes of each choice
}

// sense is what the numbers of a unit become: the unit in which they are
// reckoned with, and how.
type sense struct {
	unit  string
	times float64
}

var senses = map[string]sense{
	"": {"", 1}, "%": {"%", 1}, "fraction": {"%", 100}, "Hz": {"Hz", 1}, "kHz": {"Hz", 1000},
	"ms": {"ms", 1}, "s": {"ms", 1000}, "samples": {"ms", 0}, "dB": {"dB", 1}, "amplitude": {"dB", 1},
	"BPM": {"BPM", 1}, "beats": {"beats", 1},
}

// compile works the scale out into its table. Errors name the key.
func (f scaleFile) compile(name string) (*Scale, *mistake) {
	if len(f.Choices) > 0 {
		return f.compileChoices(name)
	}
	if f.Ranges != nil {
		return nil, wrong("ranges", "belong to choices: name those too")
	}
	if len(f.Codes) != 2 || f.Codes[0] < 0 || f.Codes[0] >= f.Codes[1] || f.Codes[1] >= maxCodes {
		return nil, wrong("codes", "%v: give the least and the greatest code, such as [0, 127]", f.Codes)
	}
	to, m := f.sense()
	if m != nil {
		return nil, m
	}
	s := &Scale{Name: name, Unit: to.unit, Low: f.Codes[0], silent: f.Silent, off: f.Off, holes: f.Holes, byRate: to.unit == "Hz"}
	if m := f.checkRanges(); m != nil {
		return nil, m
	}
	numbers := f.numbers()
	shape, m := f.shape(numbers)
	if m != nil {
		return nil, m
	}
	if len(numbers) == 0 {
		return nil, wrong("codes", "leave no code that stands for a number")
	}
	raw := make([]float64, len(numbers))
	for i, code := range numbers {
		raw[i] = shape(i, code) * to.times
	}
	if m := f.check(numbers, raw, to.unit); m != nil {
		return nil, m
	}
	f.fill(s, numbers, raw)
	if f.Notes != nil {
		f.nameNotes(s, numbers)
	}
	return s, nil
}

// sense is what the scale's numbers become.
func (f scaleFile) sense() (sense, *mistake) {
	if f.Notes != nil {
		if f.Unit != "" {
			return sense{}, wrong("unit", "%q: note values need no unit, they are told in quarter notes", f.Unit)
		}
		return senses["beats"], nil
	}
	to, ok := senses[f.Unit]
	switch {
	case !ok:
		return sense{}, wrong("unit", "%q: one of ms, dB, Hz, %%, or none; also s, samples, amplitude, kHz, fraction, BPM, beats", f.Unit)
	case (f.Unit == "samples") != (f.SampleRate != 0):
		return sense{}, wrong("sample_rate_hz", "and unit = \"samples\" go together: give both")
	case f.SampleRate < 0:
		return sense{}, wrong("sample_rate_hz", "%v: a sample rate above 0", f.SampleRate)
	case f.Unit == "samples":
		to.times = float64(preset.SamplesToMillis(1, preset.Hertz(f.SampleRate)))
	}
	return to, nil
}

// checkRanges refuses codes that are named for two things at once.
func (f scaleFile) checkRanges() *mistake {
	named := []struct {
		key    string
		ranges codeRanges
	}{{"silent", f.Silent}, {"off", f.Off}, {"holes", f.Holes}, {"same", f.Same}}
	for i, n := range named {
		if m := n.ranges.check(n.key, f.Codes[0], f.Codes[1]); m != nil {
			return m
		}
		for _, other := range named[:i] {
			if code, both := n.ranges.meet(other.ranges); both {
				return wrong(n.key, "code %d stands in %s too: a code has one meaning", code, other.key)
			}
		}
	}
	return nil
}

// numbers are the codes that stand for a number of their own, in order.
func (f scaleFile) numbers() []int {
	var all []int
	for code := f.Codes[0]; code <= f.Codes[1]; code++ {
		if !f.Silent.hold(code) && !f.Off.hold(code) && !f.Holes.hold(code) && !f.Same.repeats(code) {
			all = append(all, code)
		}
	}
	return all
}

// repeats reports whether the code stands in one of the ranges but not first.
func (r codeRanges) repeats(code int) bool {
	for _, one := range r {
		if code > one.first && code <= one.last {
			return true
		}
	}
	return false
}

// check refuses numbers that could not be turned back into one code.
func (f scaleFile) check(codes []int, raw []float64, unit string) *mistake {
	amplitudes := f.amplitudes()
	for i, code := range codes {
		v := raw[i]
		switch {
		case math.IsNaN(v) || math.IsInf(v, 0) || amplitudes && v == 0:
			return wrong("", "code %d has no finite value: name it as silent or off", code)
		case v < 0 && (unit == "ms" || unit == "Hz" || unit == "BPM" || unit == "beats"):
			return wrong("", "code %d is %v %s: below 0 there is no such thing", code, v, unit)
		}
	}
	if f.Notes != nil {
		return nil // their order is the maker's own
	}
	falls := len(raw) > 1 && raw[1] < raw[0]
	for i := 1; i < len(raw); i++ {
		if raw[i] == raw[i-1] || (raw[i] < raw[i-1]) != falls {
			return wrong("", "is not monotonic: code %d is %v, code %d is %v; codes that mean the same or nothing go into same or holes",
				codes[i-1], raw[i-1], codes[i], raw[i])
		}
	}
	return nil
}

// fill puts the numbers into the table and into their order.
func (f scaleFile) fill(s *Scale, codes []int, raw []float64) {
	s.values = make([]float64, f.Codes[1]-f.Codes[0]+1)
	amplitudes := f.amplitudes()
	for i, code := range codes {
		v := raw[i]
		if amplitudes {
			v = float64(preset.FromAmplitude(v))
		}
		s.values[code-s.Low] = v
		if amplitudes && raw[i] < 0 {
			s.turned = append(s.turned, code)
		} else {
			s.rising = append(s.rising, code)
		}
	}
	for _, order := range [][]int{s.rising, s.turned} {
		if !sort.SliceIsSorted(order, func(i, j int) bool { return s.number(order[i]) < s.number(order[j]) }) {
			slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(s.number(a), s.number(b)) })
		}
	}
	for _, r := range f.Same {
		for code := r.first + 1; code <= r.last; code++ {
			s.values[code-s.Low] = s.number(r.first)
		}
	}
}

// compileChoices makes a scale of words, one for each code or for each range.
func (f scaleFile) compileChoices(name string) (*Scale, *mistake) {
	seen := map[string]bool{"": true}
	for _, word := range f.Choices {
		if seen[word] {
			return nil, wrong("choices", "%q stands twice or is empty: each choice once", word)
		}
		seen[word] = true
	}
	if f.count() > 0 || f.Unit != "" || f.Silent != nil || f.Off != nil || f.Holes != nil || f.Same != nil {
		return nil, wrong("choices", "stand beside a unit or another shape: a scale has numbers or choices")
	}
	if f.Ranges != nil {
		return f.compileRanges(name)
	}
	low := 0
	if f.Codes != nil {
		if len(f.Codes) != 2 || f.Codes[0] < 0 || f.Codes[0] >= maxCodes || f.Codes[1]-f.Codes[0]+1 != len(f.Choices) {
			return nil, wrong("codes", "%v do not fit %d choices", f.Codes, len(f.Choices))
		}
		low = f.Codes[0]
	}
	return &Scale{Name: name, Low: low, words: f.Choices}, nil
}

// compileRanges gives each choice its range of codes; what lies between them is
// a hole.
func (f scaleFile) compileRanges(name string) (*Scale, *mistake) {
	if len(f.Ranges) != len(f.Choices) {
		return nil, wrong("ranges", "are %d for %d choices: give one for each", len(f.Ranges), len(f.Choices))
	}
	low, high := maxCodes, 0
	for _, r := range f.Ranges {
		low, high = min(low, r.first), max(high, r.last)
	}
	if f.Codes != nil {
		return nil, wrong("codes", "%v: the ranges say which codes there are; leave this key out", f.Codes)
	}
	if m := f.Ranges.check("ranges", 0, maxCodes-1); m != nil {
		return nil, m
	}
	s := &Scale{Name: name, Low: low, words: make([]string, high-low+1)}
	for i, r := range f.Ranges {
		for code := r.first; code <= r.last; code++ {
			if other := s.words[code-low]; other != "" {
				return nil, wrong("ranges", "code %d means both %q and %q", code, other, f.Choices[i])
			}
			s.words[code-low] = f.Choices[i]
		}
	}
	return s, nil
}

// A mistake is a wrong key below the table that is being read.
type mistake struct{ key, problem string }

func wrong(key, format string, args ...any) *mistake {
	return &mistake{key: key, problem: fmt.Sprintf(format, args...)}
}
