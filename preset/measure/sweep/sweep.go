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
	"errors"
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
	if err := check(take, s); err != nil {
		return Result{}, err
	}
	trace := Undo(take, s)
	found, err := trace.Measure(heads)
	if err != nil {
		return Result{}, err
	}
	r := Result{Result: found, Harmonics: distortions(trace, *s.Sweep, found.Ways)}
	r.Warnings = append(r.Warnings, limits(s, r)...)
	return r, nil
}

const longest = 600 // s of take: what is longer holds more than one sweep

func check(take measure.Take, s signals.Signal) error {
	if s.Sweep == nil {
		return errors.New("the signal is no sweep: give the file that was written beside it")
	}
	if err := s.Validate(); err != nil {
		return fmt.Errorf("the signal: %w", err)
	}
	seconds := float64(len(take.Samples)) / float64(take.Rate)
	switch {
	case take.Rate != s.Rate:
		return fmt.Errorf("the take has a rate of %v, the signal %v: record at the signal's rate, or write it at the take's", take.Rate, s.Rate)
	case take.Dry != nil && len(take.Dry) != len(take.Samples):
		return fmt.Errorf("the dry channel has %d samples, the wet one %d: both must be of one length", len(take.Dry), len(take.Samples))
	case seconds < s.Sweep.Seconds:
		return &signals.Refusal{
			Problem: fmt.Sprintf("the take lasts %.1f s and the sweep alone %.1f s", seconds, s.Sweep.Seconds), Do: "record it whole, and some seconds more",
		}
	case seconds > longest+s.Seconds():
		return &signals.Refusal{
			Problem: fmt.Sprintf("the take lasts %.0f s, the signal %.0f s", seconds, s.Seconds()), Do: "cut the take to the one sweep",
		}
	}
	return finite(take)
}

func finite(take measure.Take) error {
	for _, x := range [][]float64{take.Samples, take.Dry} {
		for i, v := range x {
			if !(math.Abs(v) < 1e6) {
				return &signals.Refusal{
					Problem: fmt.Sprintf("sample %d (at %.3f s) is %v, which is no sound", i, float64(i)/float64(take.Rate), v), Do: "export the take again as PCM",
				}
			}
		}
	}
	return nil
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
