package measure

import (
	"errors"
	"fmt"
	"math"

	"echowright/preset"
)

// Heads measures the heads of the unit that was recorded in the take: a damped
// note or several, the direct sound and its echoes mixed, or apart where
// take.Dry is given. The error is a [*Refusal] where the take holds nothing to
// measure; anything else is a wrong call.
func Heads(take Take, o Options) (Result, error) {
	if err := errors.Join(o.check(), take.check()); err != nil {
		return Result{}, err
	}
	if len(o.Heads) == 0 {
		return Result{}, errors.New("name the heads that were on, in order of delay")
	}
	rate := float64(take.Rate)
	x, noise, onsets, err := survey(take)
	if err != nil {
		return Result{}, err
	}
	first := excerpt(x, nil, rate, onsets[0].at, onsets[0].end, noise)
	f, err := measureNote(first, len(o.Heads), o.progress)
	if err != nil {
		return Result{}, err
	}
	r := f.result(o.Heads)
	r.Onsets = []preset.Millis{preset.SamplesToMillis(float64(onsets[0].at), take.Rate)}
	o.progress(1)
	return r, nil
}

// survey looks over a take: the samples with the direct current taken out, the
// mean square of the noise, and the notes.
func survey(take Take) (x []float64, noise float64, notes []note, err error) {
	rate := float64(take.Rate)
	x = take.Samples[:min(len(take.Samples), int(maxLength*rate))]
	top := 0.0
	for _, v := range x {
		top = math.Max(top, math.Abs(v))
	}
	if top < 1e-7 {
		return nil, 0, nil, &Refusal{Reason: Silence}
	}
	x = centred(x)
	noise = math.Max(noiseFloor(x, rate), 1e-14*top*top)
	notes = findNotes(x, rate, noise)
	if len(notes) == 0 {
		return nil, 0, nil, &Refusal{Reason: OnlyNoise, Detail: fmt.Sprintf("noise %.0f dBFS, peak %.0f dBFS", 10*math.Log10(noise), 20*math.Log10(top))}
	}
	return x, noise, notes, nil
}

func centred(x []float64) []float64 {
	mean := 0.0
	for _, v := range x {
		mean += v
	}
	mean /= float64(len(x))
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = v - mean
	}
	return out
}

// measureNote finds and fits the machine of one note.
func measureNote(s sound, heads int, progress func(float64)) (fitted, error) {
	half := s.thinned(halfRate, s.rate)
	guesses, a, found := coarse(half, heads)
	progress(0.1)
	switch {
	case len(found) == 0:
		return fitted{}, &Refusal{Reason: NoEcho}
	case len(guesses) == 0 && math.Abs(found[0].amp) < 2*faintest:
		return fitted{}, &Refusal{Reason: NoEcho, Detail: "nothing comes back louder than " + level(found[0].amp)}
	case len(guesses) == 0:
		return fitted{}, &Refusal{Reason: FewerEchoes, Detail: fmt.Sprintf("%d heads named, %d echoes found", heads, len(found))}
	}
	return newBench(s, half, a).refine(guesses, progress), nil
}

func level(amp float64) string {
	return fmt.Sprintf("%.0f dB to the direct sound", 20*math.Log10(math.Abs(amp)))
}
