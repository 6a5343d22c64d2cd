package profiles

import (
	"math"

	"echowright/preset"
)

// shapesFile is the ways to state what the codes of a scale mean.
type shapesFile struct {
	Linear      *linearShape      `toml:"linear"`
	Amplitude   *amplitudeShape   `toml:"amplitude"`
	Squared     *amplitudeShape   `toml:"squared"`
	Exponential *exponentialShape `toml:"exponential"`
	Piecewise   [][]float64       `toml:"piecewise"` // corners [code, value]
	Between     string            `toml:"between"`   // the corners: "linear" (if not given) or "exponential"
	Table       []float64         `toml:"table"`     // one for each code that stands for a number
	Notes       []string          `toml:"notes"`     // the same, as note values: "1/4", "1/8." dotted, "1/8t" triplet
}

// linearShape: value = is + step·(code − code0).
type linearShape struct {
	Code int     `toml:"code"`
	Is   float64 `toml:"is"`
	Step float64 `toml:"step"`
}

// amplitudeShape: an amplitude ratio is·(code − zero)/(full − zero), or its
// square, told in dB. Codes on the other side of zero turn the sign.
type amplitudeShape struct {
	Full float64  `toml:"full"`
	Is   *float64 `toml:"is"` // 1 where it is not given
	Zero float64  `toml:"zero"`
}

// exponentialShape: value = is · 2^((code − code0)/codes_per_octave).
type exponentialShape struct {
	Code           int     `toml:"code"`
	Is             float64 `toml:"is"`
	CodesPerOctave float64 `toml:"codes_per_octave"`
}

// A shape gives the number of the i-th code that stands for one.
type shape func(i, code int) float64

func (f shapesFile) count() int {
	n := 0
	for _, given := range []bool{f.Linear != nil, f.Amplitude != nil, f.Squared != nil, f.Exponential != nil,
		f.Piecewise != nil, f.Table != nil, f.Notes != nil} {
		if given {
			n++
		}
	}
	return n
}

// amplitudes reports whether the shape's numbers are amplitude ratios.
func (f scaleFile) amplitudes() bool {
	return f.Amplitude != nil || f.Squared != nil || f.Unit == "amplitude"
}

func (f scaleFile) shape(codes []int) (shape, *mistake) {
	if n := f.count(); n != 1 {
		return nil, wrong("", "has %d shapes: give one of linear, amplitude, squared, exponential, piecewise, table, notes, choices", n)
	}
	if f.Between != "" && f.Piecewise == nil {
		return nil, wrong("between", "belongs to the corners of piecewise: name those too")
	}
	switch {
	case f.Linear != nil:
		l := f.Linear
		return func(_, code int) float64 { return roundOff(l.Is + l.Step*float64(code-l.Code)) }, nil
	case f.Amplitude != nil:
		return f.Amplitude.shape("amplitude", f.Unit, func(x float64) float64 { return x })
	case f.Squared != nil:
		return f.Squared.shape("squared", f.Unit, func(x float64) float64 { return x * math.Abs(x) })
	case f.Exponential != nil:
		e := f.Exponential
		if e.CodesPerOctave == 0 || e.Is <= 0 {
			return nil, wrong("exponential", "needs is above 0 and codes_per_octave other than 0")
		}
		return func(_, code int) float64 { return e.Is * math.Exp2(float64(code-e.Code)/e.CodesPerOctave) }, nil
	case f.Piecewise != nil:
		return f.corners(codes)
	case f.Table != nil:
		if len(f.Table) != len(codes) {
			return nil, wrong("table", "has %d values for %d codes: one for each that is not silent, off, a hole or the same as another", len(f.Table), len(codes))
		}
		return func(i, _ int) float64 { return f.Table[i] }, nil
	}
	return f.noteShape(codes)
}

// roundOff takes off what binary fractions add to a decimal step: code 1210 of
// 0.1 ms is 121, not 121.00000000000001.
func roundOff(v float64) float64 { return math.Round(v*1e9) / 1e9 }

func (a amplitudeShape) shape(key, unit string, bend func(float64) float64) (shape, *mistake) {
	is := 1.0
	if a.Is != nil {
		is = *a.Is
	}
	switch {
	case a.Full <= 0 || a.Full == a.Zero:
		return nil, wrong(key+".full", "%v: the code of amplitude 1, above 0 and other than zero", a.Full)
	case is == 0:
		return nil, wrong(key+".is", "0: the amplitude that code full stands for")
	case unit != "dB":
		return nil, wrong("unit", "%q: amplitudes are told in dB: unit = \"dB\"", unit)
	}
	return func(_, code int) float64 { return is * bend((float64(code)-a.Zero)/(a.Full-a.Zero)) }, nil
}

// corners is straight, or evenly growing, from corner to corner.
func (f scaleFile) corners(codes []int) (shape, *mistake) {
	p := f.Piecewise
	exponential := f.Between == "exponential"
	if f.Between != "" && f.Between != "linear" && !exponential {
		return nil, wrong("between", "%q: \"linear\" or \"exponential\"", f.Between)
	}
	for i, c := range p {
		switch {
		case len(c) != 2 || c[0] != math.Trunc(c[0]):
			return nil, wrong("piecewise", "%v: a corner is [code, value]", c)
		case i > 0 && c[0] <= p[i-1][0]:
			return nil, wrong("piecewise", "code %v after %v: give the corners in the order of their codes", c[0], p[i-1][0])
		case exponential && c[1] <= 0:
			return nil, wrong("piecewise", "value %v: exponential corners lie above 0", c[1])
		}
	}
	if n := len(p); n < 2 || len(codes) > 0 && (p[0][0] > float64(codes[0]) || p[n-1][0] < float64(codes[len(codes)-1])) {
		return nil, wrong("piecewise", "needs two corners or more, the first and the last at the ends of the codes")
	}
	return func(_, code int) float64 {
		x, i := float64(code), 1
		for i < len(p)-1 && x > p[i][0] {
			i++
		}
		a, b := p[i-1], p[i]
		share := (x - a[0]) / (b[0] - a[0])
		if exponential {
			return a[1] * math.Pow(b[1]/a[1], share)
		}
		return roundOff(a[1] + share*(b[1]-a[1]))
	}, nil
}

func (f scaleFile) noteShape(codes []int) (shape, *mistake) {
	if len(f.Notes) != len(codes) {
		return nil, wrong("notes", "has %d note values for %d codes: one for each that is not silent, off, a hole or the same as another", len(f.Notes), len(codes))
	}
	quarters, seen := make([]float64, len(f.Notes)), map[float64]string{}
	for i, text := range f.Notes {
		n, err := preset.ParseNote(text)
		if err != nil {
			return nil, wrong("notes", "%v", err)
		}
		quarters[i] = n.Quarters()
		if other, ok := seen[quarters[i]]; ok {
			return nil, wrong("notes", "%q and %q last the same: each length once", other, text)
		}
		seen[quarters[i]] = text
	}
	return func(i, _ int) float64 { return quarters[i] }, nil
}

// nameNotes keeps the note values as they are written.
func (f scaleFile) nameNotes(s *Scale, codes []int) {
	s.notes = make([]string, len(s.values))
	for i, code := range codes {
		s.notes[code-s.Low] = f.Notes[i]
	}
	for _, r := range f.Same {
		for code := r.first + 1; code <= r.last; code++ {
			s.notes[code-s.Low] = s.notes[r.first-s.Low]
		}
	}
}
