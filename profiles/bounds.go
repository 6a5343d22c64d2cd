package profiles

import (
	"fmt"
	"math"
	"slices"
)

// The device's limits hold at every step on the way to a setting, not only at its
// end, although nobody knows where the way begins. For that the times first go as
// far out of the way as they can, the first tap first: off, or down to the least
// time that leaves the taps before it their room. No time that the limits allowed
// before lies below that, so that all that is passed through is allowed. Then they
// come up, the last tap first, by the same reasoning read backwards. A tap's note
// value goes off when its time is down, and comes before the time again: what time
// lies hidden behind a note value is nobody's business. In the same way, what
// another parameter bounds first goes to where every choice of that leaves it room.

// bounded is the parameters that the limits are about, and those that are bounded
// by another one, in the order in which they go out of the way.
func (d *Device) bounded() []int {
	var all []int
	if d.Limits != (Limits{}) {
		for _, l := range d.Lines {
			for _, t := range l.Taps {
				all = append(all, t.Parameter(RoleTime), t.Parameter(RoleNote))
			}
		}
		all = slices.DeleteFunc(all, func(i int) bool { return i == None })
	}
	for i, p := range d.Parameters {
		if p.Reach != nil && !slices.Contains(loudness, p.Role) && p.Role != RoleSource && !slices.Contains(all, i) {
			all = append(all, i)
		}
	}
	return all
}

// outOfTheWay is where the bounded parameters go first, as far as they can be sent.
func (d *Device) outOfTheWay() []codeOf {
	floors := map[int]int{}
	for _, l := range d.Lines {
		least := math.Inf(-1)
		for _, t := range l.Taps {
			i := t.Parameter(RoleTime)
			if i == None {
				continue
			}
			code, ok := d.floor(i, least)
			if !ok {
				continue
			}
			floors[i] = code
			if v := d.Parameters[i].Scale.Value(code); v.Word == "" && d.Limits.Ascending {
				least = v.Number + d.spacing(i)
			}
		}
	}
	var all []codeOf
	for _, i := range d.bounded() {
		code, ok := floors[i]
		if !ok {
			code, ok = d.floor(i, math.Inf(-1))
		}
		if ok && d.Sendable(i) {
			all = append(all, codeOf{i, code})
		}
	}
	return all
}

// spacing is how far the next tap must stand behind that time, in its own unit.
func (d *Device) spacing(time int) float64 {
	if d.Parameters[time].Of != None {
		return 0 // a share: how long it comes out is not known
	}
	return float64(d.Limits.Distance)
}

// floor is the code that takes a parameter out of the way: off, or the least number
// from least on that every choice of what bounds it allows; false if there is none.
func (d *Device) floor(i int, least float64) (code int, ok bool) {
	p := d.Parameters[i]
	if code, ok := p.Scale.Off(); ok {
		return code, true
	}
	span := d.common(p.Reach)
	for _, code := range p.Scale.rising {
		if v := p.Scale.number(code); v >= max(least-float64(slack), span.Low) && v <= span.High {
			return code, true
		}
	}
	return 0, false
}

// common is what all choices of the deciding parameter allow.
func (d *Device) common(r *Reach) Span {
	span := Span{math.Inf(-1), math.Inf(1)}
	if r == nil {
		return span
	}
	for _, word := range d.Parameters[r.Of].Scale.Words() {
		if s, ok := r.Ranges[word]; ok {
			span.Low, span.High = max(span.Low, s.Low), min(span.High, s.High)
		}
	}
	return span
}

// boundsBroken says what limits may be broken on the way from one setting to
// another, however they are set; nothing where there is always a way.
func (d *Device) boundsBroken() []Hole {
	var all []Hole
	if d.distanceBroken() {
		all = append(all, Hole{"limits", fmt.Sprintf("while times are set one after the other, two taps may come nearer to each other than %v: "+
			"the device may leave one of them where it was", d.Limits.Distance), "an off code in the scale of the times, if the device has one"})
	}
	for _, i := range d.bounded() {
		p := d.Parameters[i]
		if _, ok := d.floor(i, math.Inf(-1)); !ok {
			all = append(all, Hole{p.Name, fmt.Sprintf("no value of it is allowed with every choice of %s: on the way from one setting to another "+
				"it may be out of reach for a moment", d.Parameters[p.Reach.Of].Name), "an off code in its scale, if the device has one"})
		}
	}
	return all
}

// distanceBroken reports whether taps may meet on the way: they may stand in any
// order, or what they are shares or multiples of is not known. Taps that can be
// switched off do not meet, nor do the times of a slot that is written as a whole.
func (d *Device) distanceBroken() bool {
	if d.Limits.Distance == 0 || d.WritesSlots() {
		return false
	}
	return slices.ContainsFunc(d.Lines, func(l Line) bool {
		return len(l.Taps) > 1 && slices.ContainsFunc(l.Taps, func(t Tap) bool { return !d.canBeOff(t) && !d.keepsOrder(t) })
	})
}

func (d *Device) canBeOff(t Tap) bool {
	for _, r := range []Role{RoleTime, RoleNote} {
		if i := t.Parameter(r); i != None {
			if _, off := d.Parameters[i].Scale.Off(); !off {
				return false
			}
		}
	}
	return true
}

// keepsOrder reports whether the tap's time is its own alone, and goes up from tap
// to tap.
func (d *Device) keepsOrder(t Tap) bool {
	i := t.Parameter(RoleTime)
	return d.Limits.Ascending && !t.Has(RoleNote) && i != None && d.Parameters[i].Of == None
}
