package measure

import (
	"cmp"
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
	s, err := lookOver(take)
	if err != nil {
		return Result{}, err
	}
	fits, err := s.measure(take.Rate, len(o.Heads), o.progress)
	if err != nil {
		return Result{}, err
	}
	r := pooled(fits, o.Heads)
	r.Warnings = append(s.doubts(float64(take.Rate)), r.Warnings...)
	if len(s.clipped) > 0 {
		r.widen(clippedSD)
	}
	o.progress(1)
	return r, nil
}

// measure fits every note, mostNotes at most. What no note tells is refused; a
// note that tells less than the others is left out.
func (s survey) measure(rate preset.Hertz, heads int, progress func(float64)) ([]noteFit, error) {
	notes := s.notes[:min(len(s.notes), mostNotes)]
	var fits []noteFit
	var refused error
	for i, n := range notes {
		part := func(done float64) { progress((float64(i) + done) / float64(len(notes))) }
		f, err := measureNote(excerpt(s.x, nil, float64(rate), n.at, n.end, s.noise), heads, part)
		if err == nil {
			err = f.refusal()
		}
		if err != nil {
			refused = cmp.Or(refused, err)
			continue
		}
		fits = append(fits, noteFit{preset.SamplesToMillis(float64(n.at), rate), f})
	}
	if len(fits) == 0 {
		return nil, refused
	}
	return fits, nil
}

// refusal is what is to be said if no echo was found.
func (f fitted) refusal() error {
	if told := f.told(); told < noEcho || told < fewEcho && f.quiet() {
		return &Refusal{Reason: NoEcho, Detail: fmt.Sprintf("what was tried explains %.0f %% of the take", 100*math.Max(0, told))}
	}
	return nil
}

// A fit that takes away less than this share of the news of the take has found no
// echo; nor has one that takes away a little more for echoes that are hardly
// louder than what a damped note leaves of itself.
const (
	noEcho  = 0.12
	fewEcho = 0.25
)

// survey is a take looked over: direct current and hum taken out, the notes found.
type survey struct {
	x     []float64
	noise float64 // mean square
	notes []note
	hum   *hum // nil if there is none

	clipped []int // where runs of clipped samples begin
}

// lookOver surveys a take. The error is a refusal.
func lookOver(take Take) (survey, error) {
	rate := float64(take.Rate)
	x := take.Samples[:min(len(take.Samples), int(maxLength*rate))]
	top := peakOf(x)
	if top < 1e-7 {
		return survey{}, &Refusal{Reason: Silence}
	}
	s := survey{x: centred(x), clipped: clipping(x)}
	s.listen(rate, top)
	if h, ok := findHum(s.x, rate, s.quiet()); ok {
		s.hum = &h
		s.x = h.takenFrom(s.x, rate)
		s.listen(rate, top)
	}
	if len(s.notes) == 0 {
		return survey{}, &Refusal{Reason: OnlyNoise, Detail: fmt.Sprintf("noise %.0f dBFS, peak %.0f dBFS", 10*math.Log10(s.noise), decibels(top))}
	}
	return s, nil
}

// listen finds the noise and the notes in what is there.
func (s *survey) listen(rate, top float64) {
	s.noise = math.Max(noiseFloor(s.x, rate), 1e-14*top*top)
	s.notes = findNotes(s.x, rate, s.noise)
}

// quiet tells for every sample whether it lies outside all notes.
func (s *survey) quiet() []bool {
	q := make([]bool, len(s.x))
	for i := range q {
		q[i] = true
	}
	for _, n := range s.notes {
		for i := max(0, n.at-200); i < n.end; i++ {
			q[i] = false
		}
	}
	return q
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
	guesses, found := coarse(half, heads)
	progress(0.1)
	switch {
	case len(found) == 0:
		return fitted{}, &Refusal{Reason: NoEcho}
	case len(guesses) == 0 && math.Abs(found[0].amp) < 2*faintest:
		return fitted{}, &Refusal{Reason: NoEcho, Detail: "nothing comes back louder than " + level(found[0].amp)}
	case len(guesses) == 0:
		return fitted{}, &Refusal{Reason: FewerEchoes, Detail: fmt.Sprintf("%d heads named, %d echoes found", heads, len(found))}
	}
	return newBench(s, half).refine(guesses, progress), nil
}

func peakOf(x []float64) float64 {
	top := 1e-9
	for _, v := range x {
		top = math.Max(top, math.Abs(v))
	}
	return top
}

func level(amp float64) string {
	return fmt.Sprintf("%.0f dB to the direct sound", 20*math.Log10(math.Abs(amp)))
}
