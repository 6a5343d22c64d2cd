package arrange

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"echowright/preset"
)

// A wish is a pattern made ready to be compared with: checked, its loop below
// 0 dB, its echoes listed and drawn.
type wish struct {
	pattern preset.Pattern // as planned: with the loop that a device may be given
	asked   preset.Decibels
	refused bool // the loop asked for would never end
	taps    []preset.Tap
	returns []preset.Return // those whose repeats lie above the floor, the strongest first
	train   []preset.Echo
	limit   preset.Millis
	sheet   *sheet
	plain   []float64 // the train drawn without signs
	signed  []float64
	power   float64 // of plain
	own     float64 // ∫p² of the train
}

// safeLoop stands in for a loop that would grow or never end.
const safeLoop preset.Decibels = -1

func newWish(p preset.Pattern) (*wish, error) {
	if err := check(p); err != nil {
		return nil, err
	}
	w := &wish{pattern: p, limit: preset.TrainLimit}
	w.tame()
	loudest := p.Taps[0].Level
	for _, t := range p.Taps {
		w.limit = max(w.limit, t.Delay)
		loudest = max(loudest, t.Level)
	}
	w.taps = slices.Clone(p.Taps)
	slices.SortStableFunc(w.taps, func(a, b preset.Tap) int { return cmp.Compare(a.Delay, b.Delay) })
	for _, r := range w.pattern.Returns {
		if r.Gain+loudest > preset.TrainFloor {
			w.returns = append(w.returns, r)
		}
	}
	slices.SortStableFunc(w.returns, func(a, b preset.Return) int { return cmp.Compare(b.Gain, a.Gain) })
	var err error
	if w.train, err = w.pattern.Train(preset.TrainFloor, w.limit); err != nil {
		return nil, fmt.Errorf("its echoes: %w", err)
	}
	w.sheet = newSheet(w.limit)
	w.plain = w.sheet.draw(w.train, false)
	w.signed = w.sheet.draw(w.train, true)
	w.power = dot(w.plain, w.plain)
	w.own = w.ownPower()
	return w, nil
}

// What a pattern may hold, as a unit profile may: the loudest head has 0 dB, but
// for the last digits of whoever worked it out.
const (
	loudestHead preset.Decibels = 1e-6
	highestCut  preset.Hertz    = 100_000
)

func check(p preset.Pattern) error {
	if len(p.Taps) == 0 {
		return errors.New("no head is to be heard: choose one at least")
	}
	for _, t := range p.Taps {
		if err := checkPath("head", t.Head, t.Delay, t.Level, loudestHead, t.Tone); err != nil {
			return err
		}
	}
	for _, r := range p.Returns {
		if err := checkPath("loop from head", r.Head, r.Delay, r.Gain, preset.MaxLoopGain, r.Tone); err != nil {
			return err
		}
	}
	if e := p.EchoToDirect; e != nil && !(math.Abs(float64(*e)) <= 96) {
		return fmt.Errorf("echo to direct %v: from -96 to 96 dB", *e)
	}
	return nil
}

func checkPath(what string, head int, delay preset.Millis, level, most preset.Decibels, tone preset.Tone) error {
	const least preset.Decibels = -200
	switch {
	case !(delay >= preset.MinDelay && delay <= preset.MaxDelay):
		return fmt.Errorf("%s %d: delay %v: from %v to %v", what, head, delay, preset.MinDelay, preset.MaxDelay)
	case !(level >= least && level <= most):
		return fmt.Errorf("%s %d: %v: from %v to %v", what, head, level, least, most)
	case !(tone.LowCut >= 0 && tone.LowCut <= highestCut && tone.HighCut >= 0 && tone.HighCut <= highestCut):
		return fmt.Errorf("%s %d: cuts at %v and %v: 0 (none) or up to %v", what, head, tone.LowCut, tone.HighCut, highestCut)
	}
	return nil
}

// tame lowers a loop whose ways round add up to 0 dB or more, all in the same
// proportion: at some frequency they meet in phase, and the echoes never end.
func (w *wish) tame() {
	sum := 0.0
	for _, r := range w.pattern.Returns {
		sum += r.Gain.Amplitude()
	}
	w.asked = preset.FromAmplitude(sum)
	if sum < 1 {
		return
	}
	w.refused = true
	w.pattern.Returns = slices.Clone(w.pattern.Returns)
	for i := range w.pattern.Returns {
		w.pattern.Returns[i].Gain += safeLoop - w.asked
	}
}

// heard is the tap of that head, if it is one of the pattern.
func (w *wish) heard(head int) (preset.Tap, bool) {
	for _, t := range w.taps {
		if t.Head == head {
			return t, true
		}
	}
	return preset.Tap{}, false
}

// loopLimit is the greatest gain (an amplitude ratio) that a loop may have: no
// more than the strongest of the pattern's.
func (w *wish) loopLimit() float64 {
	limit := 0.0
	for _, r := range w.returns {
		limit = max(limit, r.Gain.Amplitude())
	}
	return limit
}

// loopSum is the gain of all the pattern's ways round together.
func (w *wish) loopSum() float64 {
	sum := 0.0
	for _, r := range w.returns {
		sum += r.Gain.Amplitude()
	}
	return sum
}

// ownPower is ∫p² of the echoes wanted, reckoned as an [ear] does.
func (w *wish) ownPower() float64 {
	p := newPlaces(w)
	sum := 0.0
	for _, e := range p.wish {
		sum += e.amp * p.exact(e.at)
	}
	return sum
}

// nearest is the place in the train of the echo nearest to a time; the train must
// not be empty.
func (w *wish) nearest(at preset.Millis) int {
	i, _ := slices.BinarySearchFunc(w.train, at, func(e preset.Echo, at preset.Millis) int { return cmp.Compare(e.At, at) })
	if i == len(w.train) || i > 0 && at-w.train[i-1].At <= w.train[i].At-at {
		return i - 1
	}
	return i
}
