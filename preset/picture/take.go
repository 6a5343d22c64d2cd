package picture

import (
	"math"

	"echowright/preset"
)

// A Take is a measured take, ready to be drawn.
type Take struct {
	Rate    preset.Hertz
	Samples []float64     // in fractions of full scale
	Onset   preset.Millis // of the note, from the first sample; the time axis counts from here
	Marks   []Mark        // sorted by time
}

// A Mark is an echo that was found in the take.
type Mark struct {
	At      preset.Millis   // after the onset
	SD      preset.Millis   // standard deviation, 0 where not known
	Level   preset.Decibels // to the direct sound
	LevelSD preset.Decibels // 0 where not known
	Head    int
	Turn    int // how often it went round the loop before: 0 is the head's first echo
}

// How much is shown before the onset and after the last echo, as a share of the
// time between them.
const (
	leadIn  = 0.04
	leadOut = 0.08
)

// Span is the stretch of time worth showing, in ms after the onset: a little
// before it, up to a little after the last echo or to the end of a take without
// echoes. It is never empty.
func (t Take) Span() (from, to preset.Millis) {
	length := preset.Millis(1)
	if t.Rate > 0 {
		length = max(1, preset.SamplesToMillis(float64(len(t.Samples)), t.Rate)-t.Onset)
	}
	if n := len(t.Marks); n > 0 {
		length = max(1, t.Marks[n-1].At*(1+leadOut))
	}
	return -leadIn * length, length
}

// Envelope is the least and the greatest sample of each of columns equal parts of
// the time from … to (after the onset). Where there are no samples both are 0.
func (t Take) Envelope(from, to preset.Millis, columns int) (low, high []float64) {
	low, high = make([]float64, columns), make([]float64, columns)
	start := (t.Onset + from).Samples(t.Rate)
	step := (to - from).Samples(t.Rate) / float64(columns)
	for i := range columns {
		a := t.index(start + float64(i)*step)
		b := t.index(start + float64(i+1)*step)
		if b == a {
			b = min(a+1, len(t.Samples)) // a column narrower than a sample still shows one
		}
		for _, v := range t.Samples[a:b] {
			if !math.IsNaN(v) {
				low[i], high[i] = min(low[i], v), max(high[i], v)
			}
		}
	}
	return low, high
}

func (t Take) index(sample float64) int {
	if math.IsNaN(sample) {
		return 0
	}
	return int(math.Max(0, math.Min(math.Ceil(sample), float64(len(t.Samples)))))
}
