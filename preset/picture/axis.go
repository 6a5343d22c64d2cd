package picture

import (
	"math"
	"strconv"
)

// axis maps values from low … high to pixels from start … end.
type axis struct{ low, high, start, end float64 }

func (a axis) at(v float64) float64 {
	return a.start + (v-a.low)/(a.high-a.low)*(a.end-a.start)
}

// inside is at for values that may lie off the axis: they stop at its ends.
func (a axis) inside(v float64) float64 {
	return a.at(math.Max(a.low, math.Min(a.high, v)))
}

// ticks are round values on the axis, about as many as wanted: steps of 1, 2 or
// 5 times a power of ten.
func (a axis) ticks(wanted int) []float64 {
	step := roundStep((a.high - a.low) / float64(wanted))
	first := math.Ceil(a.low / step)
	var all []float64
	for i := 0.0; (first+i)*step <= a.high; i++ {
		all = append(all, (first+i)*step+0) // 0 and not −0
	}
	return all
}

func roundStep(step float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(step)))
	for _, m := range []float64{1, 2, 5} {
		if step <= m*power {
			return m * power
		}
	}
	return 10 * power
}

func label(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
