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
	if take.Dry != nil {
		return knownDry(take, o)
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
	if len(o.Heads) == 0 {
		r.Warnings = append(r.Warnings, Warning{
			What: fmt.Sprintf("%d heads were found, which is a guess: repeats of fewer heads can sound the same", len(r.Unit.Heads)),
			Do:   "name the heads that were on",
		})
	}
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
		sound := excerpt(s.x, float64(rate), n.at, n.end, s.noise)
		if f, ok := likeBefore(sound, fits); ok {
			fits = append(fits, s.noteFit(i, rate, f))
			continue
		}
		f, err := measureNote(sound, heads, part)
		if err == nil {
			heads = len(f.machine.delay) // the same number in every note
			f = f.alike(fits)
		}
		if err != nil {
			if refused != nil && len(fits) == 0 {
				break // two notes that tell nothing are enough
			}
			refused = cmp.Or(refused, err)
			continue
		}
		fits = append(fits, s.noteFit(i, rate, f))
	}
	if len(fits) == 0 {
		return nil, refused
	}
	return fits, nil
}

// noteFit is the fit of note i with its place in the take.
func (s survey) noteFit(i int, rate preset.Hertz, a account) noteFit {
	until := len(s.x)
	if i+1 < len(s.notes) {
		until = s.notes[i+1].at
	}
	at := s.notes[i].at
	return noteFit{preset.SamplesToMillis(float64(at), rate), float64(until-at) / float64(rate), a}
}

// likeBefore fits the machine of the first note to another one; ok is false if
// there is none yet or it does not fit.
func likeBefore(s sound, fits []noteFit) (a account, ok bool) {
	if len(fits) == 0 || fits[0].white {
		return account{}, false
	}
	a = fits[0].account
	a.fitted, ok = newBench(s, s.thinned(halfRate, s.rate)).again(a.fitted)
	return a, ok
}

// A fit that takes away less than fewEcho of the news of the take has found no echo
// if the loudest is hardly louder than what a damped note leaves of itself; nor
// has one that takes away less than noEcho if no outspoken arrival was agreed on,
// nor has one that takes away next to nothing.
const (
	nothing   = 0.04
	noEcho    = 0.12
	fewEcho   = 0.2
	outspoken = 0.3 // of the direct sound
)

// survey is a take looked over: direct current and hum taken out, the notes found.
type survey struct {
	x     []float64
	noise float64 // mean square
	notes []note
	hum   *hum // nil if there is none

	clipped []int // where runs of clipped samples begin
	cut     bool  // the take is longer than what is looked at
}

// lookOver surveys a take. The error is a refusal.
func lookOver(take Take) (survey, error) {
	rate := float64(take.Rate)
	x := take.Samples[:min(len(take.Samples), int(maxLength*rate))]
	top := peakOf(x)
	if top < 1e-7 {
		return survey{}, &Refusal{Reason: Silence}
	}
	s := survey{x: centred(x), clipped: clipping(x), cut: len(x) < len(take.Samples)}
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

// listen finds the noise and the notes in what is there. Where there is quiet
// enough before the first note, that tells the noise better than its quietest
// stretch does, unless something else sounds in it.
func (s *survey) listen(rate, top float64) {
	s.noise = math.Max(noiseFloor(s.x, rate), 1e-14*top*top)
	s.notes = findNotes(s.x, rate, s.noise)
	if len(s.notes) == 0 {
		return
	}
	before := s.x[:max(0, s.notes[0].at-int(0.01*rate))]
	if float64(len(before)) > 2*quietStretch*rate {
		s.noise = math.Max(s.noise, math.Min(meanSquare(before), 4*s.noise))
	}
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

// measureNote finds and fits the machine of one note; with 0 heads their number
// is found too.
func measureNote(s sound, heads int, progress func(float64)) (account, error) {
	half := s.thinned(halfRate, s.rate)
	h := hear(half)
	progress(0.1)
	if len(h.agreed) == 0 {
		// An echo comes at its time however much is taken for the direct sound; what
		// comes at another time each way is the note's own ringing.
		return account{}, &Refusal{Reason: NoEcho}
	}
	a, err := newBench(s, half).account(h, heads, progress)
	if err == nil && heads > 0 {
		err = a.lacksDirect()
	}
	if err == nil && heads == 0 {
		a.remarks = append(a.remarks, a.mayLackDirect()...)
	}
	return a, err
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
