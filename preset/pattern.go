package preset

import (
	"fmt"
	"slices"
)

// A Tap is one echo of the first set that is wanted. Level is on the unit's
// scale (its loudest head 0 dB), at 1 kHz.
type Tap struct {
	Head     int
	Delay    Millis
	Level    Decibels
	Inverted bool
	Tone     Tone
}

// A Return is one way round the loop: what enters the memory comes back into it
// Delay later, Gain (at 1 kHz) louder.
type Return struct {
	Head     int
	Delay    Millis
	Gain     Decibels
	Inverted bool
	Tone     Tone
}

// A Pattern is the echoes wanted from a device. The loop may come from a head
// that is not heard, so the returns stand by themselves. EchoToDirect is how
// far 0 dB on the taps' scale lies above the direct sound, nil if not known.
type Pattern struct {
	Taps         []Tap
	Returns      []Return
	EchoToDirect *Decibels
}

// Pattern is the echoes of the unit with only the given heads heard; with none
// given, all of them. The loop stays as it is, also where it comes from a head
// that is not heard. Taps are sorted by delay.
func (u Unit) Pattern(heads ...int) (Pattern, error) {
	if len(heads) == 0 {
		heads = u.HeadNumbers()
	}
	var p Pattern
	for i, number := range heads {
		h, ok := u.Head(number)
		if !ok {
			return Pattern{}, fmt.Errorf("unit %q has no head %d: it has %v", u.Name, number, u.HeadNumbers())
		}
		if slices.Contains(heads[:i], number) {
			return Pattern{}, fmt.Errorf("unit %q: head %d is asked for twice", u.Name, number)
		}
		p.Taps = append(p.Taps, Tap{Head: h.Head, Delay: h.Delay, Level: h.Level, Inverted: h.Inverted, Tone: h.Tone()})
	}
	slices.SortFunc(p.Taps, func(a, b Tap) int { return compareDelay(a.Delay, b.Delay) })
	p.Returns = u.returns()
	if u.Direct != nil {
		level := u.Direct.EchoToDirect
		p.EchoToDirect = &level
	}
	return p, nil
}

func (u Unit) returns() []Return {
	if u.Feedback == nil {
		return nil
	}
	var fed []Head
	loudest := MinLevel
	for _, number := range u.Feedback.Heads {
		if h, ok := u.Head(number); ok {
			fed = append(fed, h)
			loudest = max(loudest, h.Level)
		}
	}
	back := make([]Return, len(fed))
	for i, h := range fed {
		back[i] = Return{
			Head: h.Head, Delay: h.Delay, Gain: u.Feedback.Gain + h.Level - loudest,
			Inverted: h.Inverted, Tone: h.Tone(),
		}
	}
	return back
}

// Network is the pattern as a signal flow: the memory is node 0.
func (p Pattern) Network() Network {
	n := Network{Nodes: 1}
	for _, r := range p.Returns {
		n.Paths = append(n.Paths, Path{From: 0, To: 0, Delay: r.Delay, Gain: signed(r.Gain.Amplitude(), r.Inverted), Head: r.Head})
	}
	for _, t := range p.Taps {
		n.Paths = append(n.Paths, Path{From: 0, To: Output, Delay: t.Delay, Gain: signed(t.Level.Amplitude(), t.Inverted), Head: t.Head})
	}
	return n
}

// Train is every echo of the pattern down to floor (dB on the taps' scale)
// within limit, sorted by time.
func (p Pattern) Train(floor Decibels, limit Millis) ([]Echo, error) {
	return p.Network().Train(floor, limit)
}

func signed(a float64, inverted bool) float64 {
	if inverted {
		return -a
	}
	return a
}

func compareDelay(a, b Millis) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}
