package profiles

import (
	"fmt"
	"math"
	"slices"
)

// maxCodes bounds a scale: three 7-bit bytes.
const maxCodes = 1 << 21

// scaleFile is a scale as the profile states it. Exactly one of the shapes is
// given; all are functions of the code.
type scaleFile struct {
	Unit   string `toml:"unit"`
	Codes  []int  `toml:"codes"`  // [least, greatest]
	Silent *int   `toml:"silent"` // the code for no sound
	Off    *int   `toml:"off"`    // the code that takes it out of the way

	Linear      *linearShape      `toml:"linear"`
	Amplitude   *amplitudeShape   `toml:"amplitude"`
	Exponential *exponentialShape `toml:"exponential"`
	Table       []float64         `toml:"table"`
	Choices     []string          `toml:"choices"`
}

// linearShape: value = is + step·(code − code0).
type linearShape struct {
	Code int     `toml:"code"`
	Is   float64 `toml:"is"`
	Step float64 `toml:"step"`
}

// amplitudeShape: an amplitude ratio of code/full, told in dB.
type amplitudeShape struct {
	Full float64 `toml:"full"`
}

// exponentialShape: value = is · 2^((code − code0)/codes_per_octave).
type exponentialShape struct {
	Code           int     `toml:"code"`
	Is             float64 `toml:"is"`
	CodesPerOctave float64 `toml:"codes_per_octave"`
}

var scaleUnits = []string{"", "ms", "dB", "Hz", "%"}

// compile works the scale out into its table. Errors name the key.
func (f scaleFile) compile(name string) (*Scale, *mistake) {
	if len(f.Choices) > 0 {
		return f.compileChoices(name)
	}
	if len(f.Codes) != 2 || f.Codes[0] < 0 || f.Codes[0] >= f.Codes[1] || f.Codes[1] >= maxCodes {
		return nil, wrong("codes", "%v: give the least and the greatest code, such as [0, 127]", f.Codes)
	}
	if !slices.Contains(scaleUnits, f.Unit) {
		return nil, wrong("unit", "%q: one of ms, dB, Hz, %%, or none", f.Unit)
	}
	s := &Scale{Name: name, Unit: f.Unit, Low: f.Codes[0], silent: noCode, off: noCode, byRate: f.Unit == "Hz"}
	shape, m := f.shape()
	if m != nil {
		return nil, m
	}
	if m := f.words(s); m != nil {
		return nil, m
	}
	for code := f.Codes[0]; code <= f.Codes[1]; code++ {
		s.values = append(s.values, shape(code))
	}
	return s, s.settle()
}

func (f scaleFile) compileChoices(name string) (*Scale, *mistake) {
	for i, word := range f.Choices {
		if word == "" || slices.Contains(f.Choices[:i], word) {
			return nil, wrong("choices", "%q stands twice or is empty: each choice once", word)
		}
	}
	if f.Linear != nil || f.Amplitude != nil || f.Exponential != nil || f.Table != nil || f.Unit != "" {
		return nil, wrong("choices", "stand beside a unit or another shape: a scale has numbers or choices")
	}
	low := 0
	if f.Codes != nil {
		if len(f.Codes) != 2 || f.Codes[1]-f.Codes[0]+1 != len(f.Choices) || f.Codes[0] < 0 {
			return nil, wrong("codes", "%v do not fit %d choices", f.Codes, len(f.Choices))
		}
		low = f.Codes[0]
	}
	return &Scale{Name: name, Low: low, words: f.Choices, silent: noCode, off: noCode}, nil
}

func (f scaleFile) shape() (func(code int) float64, *mistake) {
	var shapes []func(int) float64
	if l := f.Linear; l != nil {
		shapes = append(shapes, func(code int) float64 { return roundOff(l.Is + l.Step*float64(code-l.Code)) })
	}
	if a := f.Amplitude; a != nil {
		if a.Full <= 0 {
			return nil, wrong("amplitude.full", "%v: the code of amplitude 1, above 0", a.Full)
		}
		shapes = append(shapes, func(code int) float64 { return 20 * math.Log10(float64(code)/a.Full) })
	}
	if e := f.Exponential; e != nil {
		if e.CodesPerOctave == 0 || e.Is <= 0 {
			return nil, wrong("exponential", "needs is above 0 and codes_per_octave other than 0")
		}
		shapes = append(shapes, func(code int) float64 { return e.Is * math.Exp2(float64(code-e.Code)/e.CodesPerOctave) })
	}
	if t := f.Table; t != nil {
		if n := f.Codes[1] - f.Codes[0] + 1; len(t) != n {
			return nil, wrong("table", "has %d values for %d codes", len(t), n)
		}
		shapes = append(shapes, func(code int) float64 { return t[code-f.Codes[0]] })
	}
	if len(shapes) != 1 {
		return nil, wrong("", "has %d shapes: give one of linear, amplitude, exponential, table, choices", len(shapes))
	}
	return shapes[0], nil
}

// roundOff takes off what binary fractions add to a decimal step: code 1210 of
// 0.1 ms is 121, not 121.00000000000001.
func roundOff(v float64) float64 { return math.Round(v*1e9) / 1e9 }

func (f scaleFile) words(s *Scale) *mistake {
	for _, w := range []struct {
		key  string
		code *int
		into *int
	}{{"silent", f.Silent, &s.silent}, {"off", f.Off, &s.off}} {
		if w.code == nil {
			continue
		}
		if *w.code != f.Codes[0] && *w.code != f.Codes[1] {
			return wrong(w.key, "%d: the first or the last code, %d or %d", *w.code, f.Codes[0], f.Codes[1])
		}
		*w.into = *w.code
	}
	return nil
}

// settle finds the codes that stand for numbers and refuses a scale that is not
// strictly monotonic: a value wanted must have one nearest code.
func (s *Scale) settle() *mistake {
	s.first, s.last = s.Low, s.High()
	for s.first == s.silent || s.first == s.off {
		s.first++
	}
	for s.last == s.silent || s.last == s.off {
		s.last--
	}
	if s.first > s.last {
		return wrong("codes", "leave no code that stands for a number")
	}
	s.falls = s.last > s.first && s.values[s.last-s.Low] < s.values[s.first-s.Low]
	for c := s.first; c <= s.last; c++ {
		v := s.values[c-s.Low]
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return wrong("", "code %d has no finite value: name it as silent or off", c)
		}
		if c > s.first && (v < s.values[c-1-s.Low]) != s.falls || c > s.first && v == s.values[c-1-s.Low] {
			return wrong("", "is not monotonic: code %d is %v, code %d is %v", c-1, s.values[c-1-s.Low], c, v)
		}
	}
	return nil
}

// A mistake is a wrong key below the table that is being read.
type mistake struct{ key, problem string }

func wrong(key, format string, args ...any) *mistake {
	return &mistake{key: key, problem: fmt.Sprintf(format, args...)}
}
