package preset

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// Tapped is a tempo that somebody tapped.
type Tapped struct {
	Tempo   BPM    `json:"bpm"`
	Beat    Millis `json:"beat_ms"`
	Spread  Millis `json:"spread_ms"` // standard deviation of the intervals that counted
	Counted int    `json:"intervals"`
	Dropped int    `json:"dropped"`
}

const (
	// leastTaps is a bar counted in: fewer leave no majority to find the outliers by.
	leastTaps = 4
	// strayShare is how far an interval may lie from the median of all before it is
	// taken for a slip. A beat left out is double, a key that bounced next to
	// nothing; a hand that means the beat stays well within (common practice, no
	// source).
	strayShare = 0.25
)

// TapTempo is the tempo of taps at the given times: the median of the intervals
// between them, without those that lie more than a quarter off the median of all.
func TapTempo(at []time.Duration) (Tapped, error) {
	if len(at) < leastTaps {
		return Tapped{}, fmt.Errorf("%d taps: tap at least %d times, in time", len(at), leastTaps)
	}
	intervals := make([]float64, len(at)-1)
	for i := range intervals {
		intervals[i] = float64(at[i+1]-at[i]) / float64(time.Millisecond)
	}
	middle := median(intervals)
	kept := slices.DeleteFunc(slices.Clone(intervals), func(v float64) bool { return math.Abs(v-middle) > strayShare*middle })
	t := Tapped{Counted: len(kept), Dropped: len(intervals) - len(kept)}
	if t.Counted < leastTaps-1 || t.Counted <= t.Dropped {
		return Tapped{}, fmt.Errorf("taps too uneven to tell a tempo: of %d intervals %d lie within a quarter of their median, %.0f ms: tap again, evenly",
			len(intervals), t.Counted, middle)
	}
	t.Beat = Millis(median(kept))
	t.Tempo = TempoOf(t.Beat)
	t.Spread = Millis(deviation(kept))
	return t, CheckTempo(t.Tempo)
}

func median(of []float64) float64 {
	sorted := slices.Sorted(slices.Values(of))
	half := len(sorted) / 2
	if len(sorted)%2 == 1 {
		return sorted[half]
	}
	return (sorted[half-1] + sorted[half]) / 2
}

// deviation is the standard deviation of a sample, which has two values or more.
func deviation(of []float64) float64 {
	n := float64(len(of))
	var mean, sum float64
	for _, v := range of {
		mean += v / n
	}
	for _, v := range of {
		sum += (v - mean) * (v - mean)
	}
	return math.Sqrt(sum / (n - 1))
}
