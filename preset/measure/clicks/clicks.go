// Package clicks turns the recording of clicks that went through a unit into the
// heads they show, and how far each head's delay wanders from click to click.
//
// The clicks are found by the whole train at once, cut apart, divided by the
// click's own spectrum and laid on each other. A click is over before a machine
// has moved: what wow smears in a sweep, clicks show as it is. They carry little
// sound, so that it takes many of them and a quiet machine.
package clicks

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"

	"echowright/preset/measure"
	"echowright/preset/measure/response"
	"echowright/preset/signals"

	"echowright/preset/fastlength"
)

// Measure measures the heads from the clicks in take, which may begin anywhere in
// it. The heads are the numbers of those that were on, in order of delay. Echoes
// are looked for up to half of the clicks' spacing. The error is a
// [*signals.Refusal] where the take does not hold the clicks or shows too few
// echoes; anything else is a wrong call.
func Measure(take measure.Take, s signals.Signal, heads []int) (response.Result, error) {
	if err := s.CheckTake(signals.KindClicks, take.Rate, take.Samples, take.Dry); err != nil {
		return response.Result{}, err
	}
	r, err := undo(take, s).Measure(heads)
	if err != nil {
		return response.Result{}, err
	}
	if s.Clicks.Count < few {
		r.Warnings = append(r.Warnings, measure.Warning{
			What: fmt.Sprintf("%d clicks do not tell how far the delays wander", s.Clicks.Count), Do: fmt.Sprintf("use %d or more", few),
		})
	}
	return r, nil
}

const few = 4

// undo cuts the take into the responses to single clicks, from half a spacing
// before the loudest arrival to half a spacing after it.
func undo(take measure.Take, s signals.Signal) response.Trace {
	heard := take.Samples
	if take.Dry != nil {
		heard = take.Dry
	}
	at := loudest(heard, s)
	half := int(s.Clicks.Spacing.Samples(s.Rate)) / 2
	d := newDivider(s, 2*half)
	t := response.Trace{Rate: s.Rate, Low: lowest, High: s.Clicks.HighCut * passed}
	var dry [][]float64
	for _, start := range s.Starts() {
		if from := start + at - half; from >= 0 && from+2*half <= len(heard) {
			t.Each = append(t.Each, d.divide(take.Samples[from:from+2*half]))
			if take.Dry != nil {
				dry = append(dry, d.divide(take.Dry[from:from+2*half]))
			}
		}
	}
	t.Wet = mean(t.Each, 2*half)
	if take.Dry != nil {
		t.Dry = mean(dry, 2*half)
	}
	return t
}

// loudest is by how many samples the take's loudest clicks come later than the
// signal's: where the take and the whole train agree best.
func loudest(x []float64, s signals.Signal) int {
	train := s.Samples()
	n := fastlength.From(len(x) + len(train))
	fft := fourier.NewFFT(n)
	a, b := fft.Coefficients(nil, padded(x, n)), fft.Coefficients(nil, padded(train, n))
	for i := range a {
		a[i] *= cmplx.Conj(b[i])
	}
	agreement := fft.Sequence(nil, a)
	at := 0
	for i, v := range agreement {
		if math.Abs(v) > math.Abs(agreement[at]) {
			at = i
		}
	}
	if at >= len(x) { // it began before the take did
		at -= n
	}
	return at
}

const (
	passed = 0.8  // of the click's band is used: beyond it there is little of it
	lowest = 20.0 // Hz
)

// A divider takes the click out of its response.
type divider struct {
	fft     *fourier.FFT
	n       int
	inverse []complex128
}

func newDivider(s signals.Signal, length int) divider {
	one := signals.Signal{Rate: s.Rate, Level: s.Level, Lead: 20, Clicks: &signals.Clicks{Count: 1, Spacing: 20, HighCut: s.Clicks.HighCut}}
	click, peak := one.Samples(), one.Starts()[0]
	d := divider{n: fastlength.From(length + len(click))}
	d.fft = fourier.NewFFT(d.n)
	turned := make([]float64, d.n)
	for i, v := range click { // its peak to time 0
		turned[(i-peak+d.n)%d.n] = v
	}
	d.inverse = d.fft.Coefficients(nil, turned)
	for i, c := range d.inverse {
		f := float64(i) * float64(s.Rate) / float64(d.n)
		d.inverse[i] = complex(edge(f, float64(s.Clicks.HighCut))/float64(d.n), 0)
		if d.inverse[i] != 0 {
			d.inverse[i] /= c
		}
	}
	return d
}

// edge falls from 1 to 0 along half a cosine, from passed to all of the band.
func edge(f, cut float64) float64 {
	x := math.Max(0, math.Min(1, (f/cut-passed)/(1-passed)))
	return 0.5 + 0.5*math.Cos(math.Pi*x)
}

func (d divider) divide(x []float64) []float64 {
	s := d.fft.Coefficients(nil, padded(x, d.n))
	for i := range s {
		s[i] *= d.inverse[i]
	}
	return d.fft.Sequence(nil, s)[:len(x)]
}

func mean(each [][]float64, n int) []float64 {
	m := make([]float64, n)
	for _, one := range each {
		for i, v := range one {
			m[i] += v / float64(len(each))
		}
	}
	return m
}

func padded(x []float64, n int) []float64 {
	p := make([]float64, n)
	copy(p, x)
	return p
}
