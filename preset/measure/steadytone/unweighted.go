package steadytone

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	flutterTop  = 200.0 // Hz: the unweighted figures end here
	flutterStop = 350.0
	stretchTime = 20.0 // s
	// mostLeftOut is the part of a stretch that dropouts may have.
	mostLeftOut = 0.1
)

// unweighted looks at the deviation in stretches that overlap by half, each with
// its own mean and drift taken out: its swing, mean square and spectrum.
type unweighted struct {
	rate    float64
	thin    thinner
	out     []float64
	stretch []float64
	good    []bool // whether a sample of stretch counts
	size    int

	used          int
	swing, square float64
	power         []float64 // summed over the stretches used, under a Hann window
	length        int       // of these stretches
}

// newUnweighted limits the band but keeps the rate: the swing is read from the
// samples, which must not miss the tops of a fast flutter.
func newUnweighted(rate float64) *unweighted {
	return &unweighted{
		rate: rate, size: smooth(int(stretchTime * rate)),
		thin: thinner{taps: lowPass(rate, flutterTop, flutterStop), step: 1},
	}
}

func (u *unweighted) add(deviation float64, good bool) {
	u.out = u.thin.add([]float64{deviation}, u.out[:0])
	for _, v := range u.out {
		if !good && len(u.stretch) == 0 {
			continue // before the tone
		}
		u.stretch, u.good = append(u.stretch, v), append(u.good, good)
	}
	if len(u.stretch) < u.size {
		return
	}
	u.evaluate(mostLeftOut)
	half := u.size / 2
	u.stretch = u.stretch[:copy(u.stretch, u.stretch[half:])]
	u.good = u.good[:copy(u.good, u.good[half:])]
}

// finish makes do with a short take's only stretch, or a spoilt one.
func (u *unweighted) finish() {
	for n := len(u.good); n > 0 && !u.good[n-1]; n-- {
		u.stretch, u.good = u.stretch[:n-1], u.good[:n-1]
	}
	if u.used == 0 && len(u.stretch) > int(u.rate) {
		u.evaluate(1)
	}
}

func (u *unweighted) evaluate(mayLeaveOut float64) {
	bad := 0
	for _, good := range u.good {
		if !good {
			bad++
		}
	}
	n := smooth(len(u.stretch))
	if float64(bad) > mayLeaveOut*float64(n) {
		return
	}
	x := level(u.stretch[:n])
	low, high, square := math.Inf(1), math.Inf(-1), 0.0
	for _, v := range x {
		low, high, square = math.Min(low, v), math.Max(high, v), square+v*v
	}
	u.used++
	u.swing = math.Max(u.swing, high-low)
	u.square += square / float64(n)
	for i := range x {
		x[i] *= hann(i, n)
	}
	if u.power == nil {
		u.power, u.length = make([]float64, n/2+1), n
	}
	for i, p := range powers(fourier.NewFFT(n).Coefficients(nil, x)) {
		u.power[i] += p
	}
}

// level is x without its mean and its drift: a line of least squares under a
// Hann window, to which a sine that is cut off at the ends has no slope.
func level(x []float64) []float64 {
	n := len(x)
	middle := float64(n-1) / 2
	weight, mean, slope, square := 0.0, 0.0, 0.0, 0.0
	for i, v := range x {
		w, t := hann(i, n), float64(i)-middle
		weight += w
		mean += w * v
		slope += w * v * t
		square += w * t * t
	}
	y := make([]float64, n)
	for i, v := range x {
		y[i] = v - mean/weight - slope/square*(float64(i)-middle)
	}
	return y
}

func (u *unweighted) figures() Figures {
	if u.used == 0 {
		return Figures{}
	}
	return Figures{Peak: percent(u.swing / 2), RMS: percent(math.Sqrt(u.square / float64(u.used)))}
}
