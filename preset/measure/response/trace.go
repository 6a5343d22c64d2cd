// Package response turns an impulse response, that of a sweep or of clicks
// undone, into the heads it shows: delay, level at 1 kHz, polarity, the level
// and the delay at each frequency, and the one-pole tone nearest to it.
//
// Each arrival is cut out by a gate and held against the direct sound, cut out
// in the same way, so that recorder and signal drop out of the figures. Heads
// must lie 25 ms apart, and as far from the direct sound.
//
// Read trace.go first, then arrivals.go, gate.go, way.go and tone.go.
package response

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/signals"
)

// A Trace is an impulse response with the direct sound somewhere in it.
type Trace struct {
	Rate preset.Hertz
	Wet  []float64
	// Dry is that of the direct sound by itself, sample for sample beside Wet;
	// nil where Wet holds both.
	Dry []float64
	// Each are the single responses of which Wet is the mean, where several were
	// recorded: they are laid on each other head by head before they are added, so
	// that a wavering speed takes nothing from the high frequencies.
	Each [][]float64
	// Low and High are the ends of the band in which it holds.
	Low, High preset.Hertz
	// Ghosts are the times by which each arrival also stands too early in it, as
	// the harmonics of a sweep do.
	Ghosts []preset.Millis
}

// A Result is what a trace tells of the heads named, in their order.
type Result struct {
	Heads    []preset.Head     `json:"head"`
	Direct   preset.Direct     `json:"direct"`
	Ways     []Way             `json:"way"`
	Later    []Arrival         `json:"later"` // what comes after the last head: repeats
	Warnings []measure.Warning `json:"warnings"`
	// DirectAt is the sample of the trace at which the direct sound stands.
	DirectAt int `json:"-"`
}

// An Arrival is sound that arrives, by what is seen of it between 300 Hz and 3 kHz.
type Arrival struct {
	After preset.Millis   `json:"after_ms"` // the direct sound
	Level preset.Decibels `json:"level_db"` // to the direct sound

	at    int
	ghost bool // it may be one of a later, louder arrival
}

// CheckHeads reports why heads cannot be the numbers of the heads that were on,
// in order of delay.
func CheckHeads(heads []int) error {
	if len(heads) == 0 {
		return errors.New("name the heads that were on, in order of delay")
	}
	for i, h := range heads {
		if h < 1 || h > preset.MaxHeads || i > 0 && h <= heads[i-1] {
			return fmt.Errorf("heads %v: name them from 1 to %d in order of delay, each once", heads, preset.MaxHeads)
		}
	}
	return nil
}

// Measure measures the heads. The error is a [*signals.Refusal] where the trace
// shows no direct sound or too few echoes, or echoes torn apart by the motion.
func (t Trace) Measure(heads []int) (Result, error) {
	if err := errors.Join(CheckHeads(heads), t.check()); err != nil {
		return Result{}, err
	}
	direct, echoes, noise, err := t.arrivals()
	if err != nil {
		return Result{}, err
	}
	if plain := withoutGhosts(echoes); len(plain) >= len(heads) {
		echoes = plain
	}
	if len(echoes) < len(heads) {
		return Result{}, &signals.Refusal{
			Problem: fmt.Sprintf("%d heads named, %d echoes found", len(heads), len(echoes)),
			Do:      "name only the heads that were on and turn up the echo volume; without the direct sound give it as a dry channel",
		}
	}
	from := t.reference(direct, echoes[0].at)
	r := Result{Later: echoes[len(heads):], DirectAt: direct.at}
	for k, number := range heads {
		p := place{at: echoes[k].at, before: direct.at, next: len(t.Wet)}
		if k > 0 {
			p.before = echoes[k-1].at
		}
		if k+1 < len(echoes) {
			p.next = echoes[k+1].at
		}
		w := t.way(from, direct.at, p, noise)
		if err := w.check(number); err != nil {
			return Result{}, err
		}
		r.Ways = append(r.Ways, w)
	}
	r.intoHeads(heads, len(t.Each))
	r.Warnings = append(r.warnings(heads), t.directWarnings(from)...)
	r.Warnings = append(r.Warnings, ghostWarnings(heads, echoes)...)
	return r, nil
}

// check refuses a way of which too little is heard, or nothing in one piece.
func (w Way) check(number int) error {
	switch {
	case w.PhaseRMS > torn:
		return &signals.Refusal{
			Problem: fmt.Sprintf("the echo of head %d is torn apart: the speed wavers too much", number), Do: "use a shorter sweep, or clicks, or notes",
		}
	case math.IsNaN(float64(w.Level)) || math.IsInf(float64(w.Level), 0):
		return &signals.Refusal{
			Problem: fmt.Sprintf("nothing is heard at 1 kHz of the direct sound or of the echo of head %d", number), Do: "check which channel was recorded, and its level",
		}
	}
	return nil
}

func withoutGhosts(all []Arrival) []Arrival {
	return slices.DeleteFunc(slices.Clone(all), func(a Arrival) bool { return a.ghost })
}

// ghostWarnings tell of heads that were taken for such though they may be none:
// there were not enough without them.
func ghostWarnings(heads []int, echoes []Arrival) []measure.Warning {
	var all []measure.Warning
	for k, number := range heads {
		if echoes[k].ghost {
			all = append(all, measure.Warning{
				What: fmt.Sprintf("head %d stands where the distortion of a later, louder echo would", number),
				Do:   "use a longer sweep, of which more is clear of its own distortion, or name fewer heads",
			})
		}
	}
	return all
}

// reference is the spectrum of the direct sound. Where it stands among the
// echoes, its gate ends where that of the first begins.
func (t Trace) reference(direct place, firstEcho int) Spectrum {
	if t.Dry != nil {
		return gateAt(direct, t.Rate).Spectrum(t.Dry, t.Rate)
	}
	direct.next = firstEcho
	return gateAt(direct, t.Rate).Spectrum(t.Wet, t.Rate)
}

// way is that to the arrival at p.
func (t Trace) way(from Spectrum, direct int, p place, noise float64) Way {
	gate := gateAt(p, t.Rate)
	head, wander := t.heard(gate)
	w := t.between(from, head, gate, preset.SamplesToMillis(float64(gate.At-direct), t.Rate), noise)
	w.Wander = max(w.Wander, wander)
	return w
}

// directWarnings tell of a direct sound that may be none.
func (t Trace) directWarnings(from Spectrum) []measure.Warning {
	lost := t.dullness(from)
	if t.Dry != nil || lost <= dull {
		return nil
	}
	return []measure.Warning{{
		What: fmt.Sprintf("what was taken for the direct sound has lost %.1f dB at high frequencies, as an echo does", lost),
		Do:   "make sure that the direct sound is in the take, or give it as a dry channel: else the delays are differences, counted from an echo",
	}}
}

// dullness is what a spectrum has lost in dB at 5 kHz, or near the end of the
// band, against 1 kHz. A plain wire has lost nothing.
func (t Trace) dullness(s Spectrum) float64 {
	f := min(5000, t.High/1.5)
	return 20 * math.Log10(s.Magnitude(preset.Reference, levelOctaves)/s.Magnitude(f, levelOctaves))
}

func (t Trace) check() error {
	switch {
	case !(t.Rate >= 8000 && t.Rate <= 384_000):
		return fmt.Errorf("sample rate %v: from 8000 to 384000 Hz", t.Rate)
	case len(t.Wet) == 0 || t.Dry != nil && len(t.Dry) != len(t.Wet):
		return fmt.Errorf("responses of %d and %d samples: give both channels the same length", len(t.Wet), len(t.Dry))
	}
	return nil
}

// No figure is told to be better than this: what a one-pole tone and a
// recorder's clock leave out is no smaller.
const (
	leastDelaySD preset.Millis   = 0.01
	leastLevelSD preset.Decibels = 0.05
)

// intoHeads puts the ways into the words of a profile; their delays wandered over
// so many responses.
func (r *Result) intoHeads(numbers []int, responses int) {
	loudest := r.Ways[0].Level
	for _, w := range r.Ways {
		loudest = max(loudest, w.Level)
	}
	r.Direct.EchoToDirect = loudest
	for k, w := range r.Ways {
		r.Heads = append(r.Heads, preset.Head{
			Head: numbers[k], Delay: w.Delay, DelaySD: max(w.DelaySD, leastDelaySD, w.Wander/preset.Millis(math.Sqrt(float64(max(responses, 1))))),
			Level: w.Level - loudest, LevelSD: max(w.LevelSD, leastLevelSD), Inverted: w.Inverted,
			LowCutHz: w.Tone.LowCut, HighCutHz: w.Tone.HighCut,
		})
	}
}

const (
	misfit   = 1.5 // dB RMS
	dull     = 3.0 // dB that a recorder does not take from a direct sound
	sameTime = 1.0 // ms
)

func (r *Result) warnings(heads []int) []measure.Warning {
	var all []measure.Warning
	for k, w := range r.Ways {
		if w.PhaseRMS > smeared {
			all = append(all, measure.Warning{
				What: fmt.Sprintf("head %d: its delay wandered by %.2f ms while it was measured: the speed wavers, which smears the high frequencies", heads[k], float64(w.Wander)),
				Do:   "the delay is the mean; use a shorter sweep or clicks to see the response more sharply",
			})
		}
		if w.Misfit > misfit {
			all = append(all, measure.Warning{
				What: fmt.Sprintf("head %d: its tone lies %.1f dB off any one-pole low and high cut", heads[k], float64(w.Misfit)),
				Do:   "look at its response; the cuts are the nearest there are",
			})
		}
	}
	if len(r.Later) > 0 {
		all = append(all, r.loopWarnings(heads)...)
	}
	return all
}

// loopWarnings tell of heads that stand where a repeat of others would.
func (r *Result) loopWarnings(heads []int) []measure.Warning {
	var all []measure.Warning
	for k, w := range r.Ways {
		for i := range k {
			for j := range k {
				if i <= j && math.Abs(float64(r.Ways[i].Delay+r.Ways[j].Delay-w.Delay)) < sameTime {
					all = append(all, measure.Warning{
						What: fmt.Sprintf("head %d stands where a repeat of heads %d and %d would, and there are repeats in the take", heads[k], heads[i], heads[j]),
						Do:   "turn the repeats down to nought and record again",
					})
				}
			}
		}
	}
	return all
}
