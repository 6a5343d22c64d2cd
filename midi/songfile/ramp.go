package songfile

import (
	"fmt"
	"math"

	"echowright/preset"
)

// A Ramp is a tempo that rises or falls evenly, in beats a minute by beat, over
// Length ticks from the tick At on.
type Ramp struct {
	At, Length Tick
	From, To   preset.BPM
}

// roundingOfTempo is what whole microseconds can add to the ratio of two tempi:
// half of one at each, of the 60,000 that a beat has at the fastest.
const roundingOfTempo = 1.0 / 60_000

// Steps is the ramp as tempi that hold for a while each, the last from its end
// on. No step changes delay, the longest that follows the tempo, by more than a
// listener notices: 6 ms, or 2.5 % above 240 ms (Friberg & Sundberg 1995, see
// [preset.TimingJND]).
//
// All steps have the same ratio, and the tempo of each is the one at which it
// lasts as long as its part of the ramp, so that the beats between the steps fall
// where the ramp has them: x beats in, a beat lasts 60/(a + s·x) s, and its
// integral over the part where the tempo goes from b to c is that of the steady
// tempo (c − b)/ln(c/b).
func (r Ramp) Steps(delay preset.Millis) ([]TempoChange, error) {
	if err := r.check(delay); err != nil {
		return nil, fmt.Errorf("tempo ramp at tick %d: %w", r.At, err)
	}
	audible := float64(preset.TimingJND(delay)/delay) - roundingOfTempo
	n := int(math.Ceil(math.Abs(math.Log(float64(r.To/r.From))) / math.Log1p(audible)))
	var steps []TempoChange
	last := r.At - 1
	for i := range n + 1 {
		at, tempo, err := r.step(i, n)
		if err != nil {
			return nil, err
		}
		if at == last {
			return nil, fmt.Errorf("tempo ramp at tick %d: %d ticks are too few for the %d steps from %v to %v: make it longer, or the ticks finer",
				r.At, r.Length, n, r.From, r.To)
		}
		steps, last = append(steps, TempoChange{at, tempo}), at
	}
	return steps, nil
}

// step is the i-th of n, from 0 on; the n-th is where the ramp ends.
func (r Ramp) step(i, n int) (Tick, Tempo, error) {
	if i == n {
		at := r.At + r.Length
		if n == 0 {
			at = r.At // a level ramp
		}
		tempo, err := TempoOf(r.To)
		return at, tempo, err
	}
	ratio := math.Pow(float64(r.To/r.From), 1/float64(n))
	begins := r.From * preset.BPM(math.Pow(ratio, float64(i)))
	share := float64((begins - r.From) / (r.To - r.From))
	tempo, err := TempoOf(begins * preset.BPM((ratio-1)/math.Log(ratio)))
	return r.At + Tick(math.Round(share*float64(r.Length))), tempo, err
}

func (r Ramp) check(delay preset.Millis) error {
	for _, b := range []preset.BPM{r.From, r.To} {
		if err := preset.CheckTempo(b); err != nil {
			return err
		}
	}
	switch d := float64(delay); {
	case r.At < 0 || r.Length < 1 || r.At > MaxTick || r.Length > MaxTick-r.At:
		return fmt.Errorf("%d ticks long: wanted 1 or more, and an end at %d or before", r.Length, MaxTick)
	case !(d > 0) || math.IsInf(d, 0):
		return fmt.Errorf("delay of %v: wanted more than 0 ms", delay)
	}
	return nil
}
