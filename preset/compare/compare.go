package compare

import (
	"fmt"
	"math"

	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/signals"
)

// Options of a comparison.
type Options struct {
	// Heads are the numbers of the heads that were on, in order of delay. With
	// them, the echoes of both takes are measured as [measure.Heads] does; else
	// they are looked for in the response of the machine to its direct sound.
	Heads []int
	// Steps is the test signal, where both takes hold level steps.
	Steps *signals.Signal
	// Progress, if not nil, is told the share that is done, 0 to 1, rising.
	Progress func(done float64)
}

// An Alignment is how B lies on A. A standard deviation of 0 means that it is not
// known.
type Alignment struct {
	Offset   preset.Millis // the sound comes so much later in B than in A, at the beginning of A
	OffsetSD preset.Millis
	Gain     preset.Decibels // B is so much louder than A where both hold the same sound
	GainSD   preset.Decibels
	// Drift in millionths: the sound lasts so much longer in B. Nil where the takes
	// are too short, or have too few notes, to tell it from a machine's speed.
	Drift    *float64
	DriftSD  float64
	Inverted bool // B is turned over
}

// Traces are both takes as they lie on each other, B at A's level: what is
// compared of their first channels.
type Traces struct {
	Rate preset.Hertz
	From preset.Millis // of the first sample, in A
	A, B []float64
}

// A Result is what differs. Differences are B less A, all of B after it was laid
// on A and brought to its level.
type Result struct {
	Alignment Alignment
	// Residual is what is left when B is taken from A, to A: the null. Nothing lies
	// below Floor, which is what rounding to the files' bits leaves by itself.
	Residual preset.Decibels
	Floor    preset.Decibels

	Echoes []Echo // by time
	From   Source // of the echoes
	UnitA  *preset.Unit
	UnitB  *preset.Unit
	Tone   []Band // by frequency
	Decay  *Decay // nil where the takes do not die away
	Steps  *Steps // nil without Options.Steps
	Traces Traces

	Warnings []measure.Warning
}

// AtFloor says whether nothing is left of A but what rounding leaves.
func (r Result) AtFloor() bool { return r.Residual <= r.Floor }

// Takes compares two takes of one playing. The error is a [*Refusal] where they
// are not that, or hold nothing; anything else is a wrong call.
func Takes(a, b Take, o Options) (Result, error) {
	if err := check(a, b); err != nil {
		return Result{}, err
	}
	var r Result
	r.warnOf(a, b)
	a, b = r.oneRate(a, b)
	f, w, err := align(a, b)
	if err != nil {
		return Result{}, err
	}
	r.Alignment = f.alignment(a.Rate)
	r.warnOfAlignment(f)
	o.progress(0.3)
	wetA, wetB := laid(a, b, f, w.reader)
	r.Traces = Traces{Rate: a.Rate, From: preset.SamplesToMillis(float64(f.from), a.Rate), A: wetA[0], B: wetB[0]}
	r.Residual, r.Floor = residual(wetA, wetB, a.floor()+b.floor()/(f.gain*f.gain))
	r.Tone = tones(wetA, wetB, a.Rate)
	r.Decay = decays(wetA[0], wetB[0], a.Rate)
	o.progress(0.4)
	if err := r.echoes(a, b, f, o); err != nil {
		return Result{}, err
	}
	if o.Steps != nil {
		if err := r.steps(a, b, *o.Steps); err != nil {
			return Result{}, err
		}
	}
	o.progress(1)
	return r, nil
}

func (o Options) progress(done float64) {
	if o.Progress != nil {
		o.Progress(done)
	}
}

func check(a, b Take) error {
	if err := a.check("A"); err != nil {
		return err
	}
	if err := b.check("B"); err != nil {
		return err
	}
	if len(a.Channels) != len(b.Channels) || a.Dry != b.Dry {
		return fmt.Errorf("take A has %d channels, B %d: compare one with one, or two with two in the same order", len(a.Channels), len(b.Channels))
	}
	return nil
}

func (r *Result) warn(what, do string) {
	r.Warnings = append(r.Warnings, measure.Warning{What: what, Do: do})
}

func (r *Result) warnOf(a, b Take) {
	for _, t := range []struct {
		name string
		Take
	}{{"A", a}, {"B", b}} {
		if n := t.clipped(); n > 0 {
			r.warn(fmt.Sprintf("take %s is clipped in %d places", t.name, n), "record it again at a lower level: the clipping is compared as if it were the machine's")
		}
	}
	if la, lb := seconds(a), seconds(b); math.Abs(la-lb) > 1 {
		r.warn(fmt.Sprintf("take A lasts %.1f s, B %.1f s", la, lb), "only what both hold is compared")
	}
}

func seconds(t Take) float64 { return float64(len(t.Channels[0])) / float64(t.Rate) }

// warnOfAlignment tells what the alignment leaves in doubt.
func (r *Result) warnOfAlignment(f fit) {
	if !f.drifts {
		r.warn("the takes are too short to tell how the recorders' clocks differ", "a drift counts as a difference of the echoes; compare several notes in one take")
	}
}

// oneRate brings the take of the higher rate to the other's.
func (r *Result) oneRate(a, b Take) (Take, Take) {
	if a.Rate == b.Rate {
		return a, b
	}
	rate := min(a.Rate, b.Rate)
	r.warn(fmt.Sprintf("take A has a rate of %v, B one of %v", a.Rate, b.Rate), fmt.Sprintf("both are compared at %v, up to %.0f Hz", rate, 0.4*float64(rate)))
	return a.at(rate), b.at(rate)
}

// residual is what is left of a without b, to a; floor is the mean square that
// rounding leaves in each channel.
func residual(a, b [][]float64, floor float64) (left, least preset.Decibels) {
	var rest, whole, n float64
	for c, x := range a {
		for i, v := range x {
			e := v - b[c][i]
			rest += e * e
		}
		whole += energy(x)
		n += float64(len(x))
	}
	if whole == 0 {
		return 0, 0
	}
	least = preset.Decibels(10 * math.Log10(floor*n/whole))
	return max(least, preset.Decibels(10*math.Log10(math.Max(rest, 1e-300)/whole))), least
}
