// Package sweep turns the recording of an exponential sweep that went through a
// unit into its impulse response, the heads that it shows, and the harmonic
// distortion of each by order.
//
// The method is that of A. Farina (AES 108th Convention, 2000, preprint 5093),
// one of those that ISO 18233:2006 lets stand for the classical ones: the
// recording is convolved with the sweep turned round in time and falling by
// 6 dB an octave. What the machine adds at n times the frequency then stands
// L·ln n before the linear response, with L the time in which the sweep's
// frequency grows by the factor e.
//
// It holds for a machine that does not change meanwhile. Wow moves the delay
// while the sweep passes: it smears the high frequencies, which is told where it
// is seen. Repeats make the train of echoes long: the one of the second harmonic
// must end before the direct sound begins, so that three seconds of echoes ask
// for L·ln 2 > 3 s, or 30 s of sweep from 20 Hz to 20 kHz.
package sweep

import (
	"fmt"
	"math"

	"echowright/preset/measure"
	"echowright/preset/measure/response"
	"echowright/preset/signals"
)

// A Result is what a sweep tells of the heads named, in their order.
type Result struct {
	response.Result
	// Harmonics has the distortion of each head, by order from 2 to 5.
	Harmonics []Distortion `json:"harmonics"`
}

// Measure undoes the sweep that take holds, which may begin anywhere in it. The
// heads are the numbers of those that were on, in order of delay. The error is a
// [*signals.Refusal] where the take does not hold the sweep or shows too few
// echoes; anything else is a wrong call.
func Measure(take measure.Take, s signals.Signal, heads []int) (Result, error) {
	if err := s.CheckTake(signals.KindSweep, take.Rate, take.Samples, take.Dry); err != nil {
		return Result{}, err
	}
	trace := Undo(take, s)
	found, err := trace.Measure(heads)
	if err != nil {
		return Result{}, err
	}
	r := Result{Result: found, Harmonics: distortions(trace, *s.Sweep, found)}
	r.Warnings = append(r.Warnings, limits(s, r)...)
	r.Warnings = append(r.Warnings, crowdWarnings(heads, r, arrivalsOf(found, trace), s)...)
	return r, nil
}

// limits tells where the sweep was too short, or the take too loud, for what is
// asked of it.
func limits(s signals.Signal, r Result) []measure.Warning {
	var all []measure.Warning
	last := r.Ways[len(r.Ways)-1].Delay
	for _, a := range r.Later {
		last = max(last, a.After)
	}
	if clear := s.Sweep.Ahead(2); last > clear {
		seconds := last.Seconds() / math.Ln2 * math.Log(float64(s.Sweep.To/s.Sweep.From))
		all = append(all, measure.Warning{
			What: fmt.Sprintf("echoes are heard for %.1f s, but of this sweep only %.1f s are clear of their own distortion", last.Seconds(), clear.Seconds()),
			Do:   fmt.Sprintf("turn the repeats down, or use a sweep of %.0f s", math.Ceil(seconds)),
		})
	}
	return all
}
