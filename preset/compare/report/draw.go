package report

import (
	"math"
	"strings"

	"echowright/preset"
	"echowright/preset/compare"
)

// The size of a drawing in its own pixels, which the page scales to its width.
const (
	left        = 60.0 // room for numbers
	right       = 890.0
	columnWidth = 1.0 // of a trace
)

// A point of a scale: where it stands and what is written there.
type tick struct {
	At    string
	Words string
}

// A mark is a line at an echo with its name.
type mark struct{ X, Words, Tell string }

// Traces are both takes on one axis of time, and what they leave.
type traces struct {
	A, B, Left string // outlines
	Marks      []mark
	Ticks      []tick
	Tell       string
}

// drawTraces shows the first note and its echoes, or all where there are none.
func drawTraces(r compare.Result) *traces {
	t := r.Traces
	if len(t.A) == 0 || t.Rate <= 0 {
		return nil
	}
	on := onset(t.A)
	from, to := 0, len(t.A)
	if n := len(r.Echoes); n > 0 {
		from = max(0, on-int(0.03*float64(t.Rate)))
		to = min(len(t.A), on+int((1.12*r.Echoes[n-1].At+150).Samples(t.Rate)))
	}
	most := math.Max(peak(t.A[from:to]), peak(t.B[from:to]))
	if most == 0 {
		return nil
	}
	rest := make([]float64, to-from)
	for i := range rest {
		rest[i] = t.A[from+i] - t.B[from+i]
	}
	out := traces{A: outline(t.A[from:to], 95, 65/most), B: outline(t.B[from:to], 245, 65/most), Left: outline(rest, 245, 65/most)}
	ms := func(i int) float64 { return float64(preset.SamplesToMillis(float64(i-on), t.Rate)) }
	x := func(at float64) string { return place(left + (at-ms(from))/(ms(to)-ms(from))*(right-left)) }
	for _, v := range rounds(ms(from), ms(to), 14) {
		out.Ticks = append(out.Ticks, tick{x(v), fixed(v, 0)})
	}
	last := math.Inf(-1)
	for i, e := range r.Echoes {
		m := mark{X: x(float64(e.At)), Tell: tell(i, e)}
		if at := float64(e.At) / (ms(to) - ms(from)) * (right - left); at-last > 28 { // room for a name
			m.Words, last = short(i, e), at
		}
		out.Marks = append(out.Marks, m)
	}
	out.Tell = "Both takes on one axis of time, from " + fixed(ms(from), 0) + " to " + fixed(ms(to), 0) + " ms after the note begins; the echoes stand in the table below."
	return &out
}

func short(i int, e compare.Echo) string {
	if e.Head == 0 {
		return fixed(float64(i+1), 0)
	}
	if e.Turn == 0 {
		return "H" + fixed(float64(e.Head), 0)
	}
	return "·"
}

func tell(i int, e compare.Echo) string {
	words := label(i, e) + ": " + fixed(float64(e.At), 2) + " ms, " + fixed(float64(e.Level), 1) + " dB"
	if e.Missing {
		return words + "; missing in B"
	}
	return words + "; in B " + signed(float64(e.Delta), 2) + " ms, " + signed(float64(e.DeltaDB), 2) + " dB"
}

func onset(x []float64) int {
	least := 0.1 * peak(x)
	for i, v := range x {
		if math.Abs(v) > least {
			return i
		}
	}
	return 0
}

func peak(x []float64) float64 {
	most := 0.0
	for _, v := range x {
		most = math.Max(most, math.Abs(v))
	}
	return most
}

// outline goes along the greatest sample of each column and back along the least.
func outline(x []float64, middle, scale float64) string {
	columns := min(int((right-left)/columnWidth), max(1, len(x)))
	var there, back strings.Builder
	lows := make([]string, columns)
	for c := range columns {
		from, to := c*len(x)/columns, max(c*len(x)/columns+1, (c+1)*len(x)/columns)
		low, high := math.Inf(1), math.Inf(-1)
		for _, v := range x[from:min(to, len(x))] {
			low, high = math.Min(low, v), math.Max(high, v)
		}
		at := place(left + (float64(c)+0.5)*(right-left)/float64(columns))
		command := "L"
		if c == 0 {
			command = "M"
		}
		there.WriteString(command + at + " " + place(middle-scale*high-0.4))
		lows[c] = "L" + at + " " + place(middle-scale*low+0.4)
	}
	for c := columns - 1; c >= 0; c-- {
		back.WriteString(lows[c])
	}
	return there.String() + back.String() + "Z"
}

// rounds are round numbers from low to high, about so many.
func rounds(low, high float64, wanted int) []float64 {
	if !(high > low) {
		return nil
	}
	step := math.Pow(10, math.Floor(math.Log10((high-low)/float64(wanted))))
	for _, m := range []float64{1, 2, 5, 10} {
		if (high-low)/(step*m) <= float64(wanted) {
			step *= m
			break
		}
	}
	var all []float64
	for v := math.Ceil(low/step) * step; v <= high+step/1e6; v += step {
		all = append(all, v+0)
	}
	return all
}

func place(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		v = 0
	}
	return strings.ReplaceAll(fixed(v, 1), "−", "-")
}
