package picture

import (
	"math"
	"strconv"
	"strings"
)

// axis maps values from low … high to pixels from start … end, by their
// logarithms if log is set.
type axis struct {
	low, high, start, end float64
	log                   bool
}

func (a axis) at(v float64) float64 {
	low, high := a.low, a.high
	if a.log {
		low, high, v = math.Log(low), math.Log(high), math.Log(v)
	}
	return a.start + (v-low)/(high-low)*(a.end-a.start)
}

// inside is at for values that may lie off the axis: they stop at its ends.
func (a axis) inside(v float64) float64 {
	return a.at(math.Max(a.low, math.Min(a.high, v)))
}

func (a axis) holds(v float64) bool { return v >= a.low && v <= a.high }

// ticks are round values on the axis, about as many as wanted: steps of 1, 2 or
// 5 times a power of ten.
func (a axis) ticks(wanted int) []float64 {
	step := roundStep((a.high - a.low) / float64(wanted))
	first := math.Ceil(a.low/step - 1e-9)
	var all []float64
	for i := 0.0; (first+i)*step <= a.high+1e-9*step && len(all) < 4*wanted; i++ {
		all = append(all, (first+i)*step+0) // 0 and not −0
	}
	return all
}

func roundStep(step float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(step)))
	for _, m := range []float64{1, 2, 5} {
		if step <= m*power*(1+1e-9) {
			return m * power
		}
	}
	return 10 * power
}

// A scale is an axis before it has a place: what it counts, from where to where,
// and the values that have a line and a number.
type scale struct {
	name      string // with its unit
	low, high float64
	log       bool
	ticks     []float64
	label     func(float64) string
}

// linear is a scale with about so many round numbers.
func linear(name string, low, high float64, wanted int) scale {
	return scale{name: name, low: low, high: high, ticks: axis{low: low, high: high}.ticks(wanted), label: label}
}

// decades is a logarithmic scale with the numbers 1, 2 and 5 times the powers of ten.
func decades(name string, low, high float64) scale {
	s := scale{name: name, low: low, high: high, log: true, label: label}
	for power := math.Pow(10, math.Floor(math.Log10(low))); power <= high; power *= 10 {
		for _, m := range []float64{1, 2, 5} {
			if v := m * power; v >= low*(1-1e-9) && v <= high*(1+1e-9) {
				s.ticks = append(s.ticks, v)
			}
		}
	}
	return s
}

// hertz is the scale of frequencies.
func hertz(low, high float64) scale {
	s := decades("frequency in Hz (k: thousands)", low, high)
	s.label = func(v float64) string {
		if v >= 1000 {
			return label(v/1000) + "k"
		}
		return label(v)
	}
	return s
}

// label writes a round value with a true minus.
func label(v float64) string {
	return minus(strconv.FormatFloat(math.Round(v*1e9)/1e9+0, 'f', -1, 64))
}

func minus(number string) string { return strings.ReplaceAll(number, "-", "−") }

// fixed is v to so many decimals.
func fixed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return minus(s)
}

// A span is a least and a greatest value.
type span struct{ low, high float64 }

// spanOf is that of the values that are numbers; ok is false where there are none.
func spanOf(values []float64) (s span, ok bool) {
	s = span{math.Inf(1), math.Inf(-1)}
	for _, v := range values {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			s.low, s.high = math.Min(s.low, v), math.Max(s.high, v)
		}
	}
	return s, s.low <= s.high
}

// widened is the span from the multiple of step below it to the one above it.
func (s span) widened(step float64) span {
	return span{step * math.Floor(s.low/step+1e-9), step*ceil(s.high/step) + 0}
}

// ceil forgives rounding errors; adding 0 makes 0 of −0.
func ceil(v float64) float64 { return math.Ceil(v-1e-9) + 0 }
