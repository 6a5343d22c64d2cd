package render

import (
	"math"
	"math/cmplx"

	"echowright/preset"
)

// A filter is a one-pole low cut and a one-pole high cut, in the form that programs
// have and that the measurement fits: backward differences, each with half of the
// power left at its corner.
//
//	low cut:  l(n) = low·(l(n−1) + x(n) − x(n−1))
//	high cut: y(n) = (1 − high)·l(n) + high·y(n−1)
type filter struct {
	low, high    float64 // 1 and 0: nothing is cut
	gain         float64
	rate         float64
	cuts         preset.Tone
	before, l, y float64
}

// newFilter is for a tone at a rate. Levelled, it takes nothing at 1 kHz. A high
// cut at or above half the rate is none.
//
// With c = cos ω at the corner, half the power is left by the high cut where
// 2·(1−high)² = 1 − 2·high·c + high², and by the low cut where
// 4·low²·(1−c) = 1 − 2·low·c + low².
func newFilter(t preset.Tone, levelled bool, rate float64) filter {
	f := filter{low: 1, gain: 1, rate: rate, cuts: t}
	if high := float64(t.HighCut); high > 0 && high < rate/2 {
		b := 2 - math.Cos(2*math.Pi*high/rate)
		f.high = b - math.Sqrt(b*b-1)
	}
	if low := float64(t.LowCut); low > 0 {
		c := math.Cos(2 * math.Pi * min(low/rate, 0.5))
		f.low = 1 / (c + math.Sqrt((1-c)*(3-c)))
	}
	if levelled {
		f.gain = 1 / f.magnitude(float64(preset.Reference))
	}
	return f
}

// magnitude is what the filter leaves of frequency hz, its gain with it.
func (f *filter) magnitude(hz float64) float64 {
	z := cmplx.Exp(complex(0, -2*math.Pi*hz/f.rate))
	h := complex(f.gain*(1-f.high), 0) / (1 - complex(f.high, 0)*z)
	if f.low < 1 {
		h *= complex(f.low, 0) * (1 - z) / (1 - complex(f.low, 0)*z)
	}
	return cmplx.Abs(h)
}

// peak is the greatest gain at any frequency: with both cuts it lies at the
// geometric mean of their corners, with one at the open end.
func (f *filter) peak() float64 {
	low, high := float64(f.cuts.LowCut), float64(f.cuts.HighCut)
	switch {
	case low > 0 && f.high > 0:
		return f.magnitude(min(math.Sqrt(low*high), f.rate/2))
	case low > 0:
		return f.magnitude(f.rate / 2)
	}
	return f.gain
}

func (f *filter) process(x []float64) {
	if f.low == 1 && f.high == 0 {
		if f.gain != 1 {
			for i := range x {
				x[i] *= f.gain
			}
		}
		return
	}
	before, l, y := f.before, f.l, f.y
	low, in, high := f.low, f.gain*(1-f.high), f.high
	if low == 1 {
		for i, v := range x {
			y = in*v + high*y
			x[i] = y
		}
	} else {
		for i, v := range x {
			l = low * (l + v - before)
			before = v
			y = in*l + high*y
			x[i] = y
		}
	}
	f.before, f.l, f.y = before, settled(l), settled(y)
}

// settled puts what is dying away to rest, before it becomes numbers so small that
// processors are slow with them.
func settled(v float64) float64 {
	if math.Abs(v) < 1e-30 {
		return 0
	}
	return v
}
