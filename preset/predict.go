package preset

import (
	"fmt"
	"math"
	"slices"
)

// How far a measured head may lie from the straight line through all of them
// before they do not count as evenly spaced: a share of the spacing, or four times
// its own uncertainty, but that no more than mostShare of the spacing: a head whose
// place is not known is no witness. The levels of heads that were off are not known at all; what
// is put in is the mean of the measured ones, this uncertain.
const (
	evenShare             = 0.02
	mostShare             = 0.1
	evenSDs               = 4
	inferredSD   Decibels = 6
	leastSDMilli Millis   = 0.01
)

// Predict adds the heads first … last that were not measured, inferred from even
// spacing: the straight line of least squares through delay over head number. They
// are flagged as Inferred, with the line's own uncertainty at their place and a
// level that is a mere guess. The error says why nothing can be inferred: fewer
// than two heads, or heads that are not evenly spaced.
func (u Unit) Predict(first, last int) (Unit, error) {
	if first < 1 || last > MaxHeads || first > last {
		return Unit{}, fmt.Errorf("heads %d to %d: from 1 to %d, the lesser first", first, last, MaxHeads)
	}
	line, err := fitSpacing(u)
	if err != nil {
		return Unit{}, err
	}
	out := u
	out.Heads = slices.Clone(u.Heads)
	for n := first; n <= last; n++ {
		if _, measured := u.Head(n); measured {
			continue
		}
		h, err := line.head(n, u)
		if err != nil {
			return Unit{}, err
		}
		out.Heads = append(out.Heads, h)
	}
	slices.SortFunc(out.Heads, func(a, b Head) int { return a.Head - b.Head })
	return out, nil
}

// spacing is the line delay = at + step·(number − mean), with its uncertainty.
type spacing struct {
	mean, at, step float64
	sdAt, sdStep   float64
}

func fitSpacing(u Unit) (spacing, error) {
	n := float64(len(u.Heads))
	if n < 2 {
		return spacing{}, fmt.Errorf("unit %q: one head tells no spacing: measure at least two heads, better three", u.Name)
	}
	var s spacing
	for _, h := range u.Heads {
		s.mean += float64(h.Head) / n
		s.at += float64(h.Delay) / n
	}
	var xx, xy float64
	for _, h := range u.Heads {
		x := float64(h.Head) - s.mean
		xx += x * x
		xy += x * float64(h.Delay)
	}
	s.step = xy / xx
	worst, step := 0.0, math.Abs(s.step)
	for _, h := range u.Heads {
		off := math.Abs(float64(h.Delay) - s.delay(h.Head))
		if off > max(evenShare*step, min(mostShare*step, evenSDs*float64(h.DelaySD))) {
			return spacing{}, fmt.Errorf("unit %q: head %d lies %.1f ms off even spacing (%.1f ms a head): the others cannot be inferred, measure them",
				u.Name, h.Head, off, s.step)
		}
		worst = max(worst, off, float64(max(h.DelaySD, leastSDMilli)))
	}
	s.sdAt, s.sdStep = worst/math.Sqrt(n), worst/math.Sqrt(xx)
	return s, nil
}

func (s spacing) delay(number int) float64 { return s.at + s.step*(float64(number)-s.mean) }

func (s spacing) head(number int, u Unit) (Head, error) {
	delay := s.delay(number)
	if delay < float64(MinDelay) {
		return Head{}, fmt.Errorf("unit %q: head %d would stand at %.1f ms: the spacing of %.1f ms does not reach back to it", u.Name, number, delay, s.step)
	}
	like := u.Heads[0]
	level := Decibels(0)
	for _, h := range u.Heads {
		level += h.Level / Decibels(len(u.Heads))
		if math.Abs(float64(h.Head-number)) < math.Abs(float64(like.Head-number)) {
			like = h
		}
	}
	return Head{
		Head: number, Delay: Millis(delay), DelaySD: Millis(math.Hypot(s.sdAt, s.sdStep*(float64(number)-s.mean))),
		Level: level, LevelSD: inferredSD, LowCutHz: like.LowCutHz, HighCutHz: like.HighCutHz, Inferred: true,
	}, nil
}
