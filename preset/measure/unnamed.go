package measure

import (
	"slices"

	"echowright/preset"
)

// unnamed is the number of a head that sounds though it was not named, until it is
// left out.
const unnamed = 0

// numbers are the numbers of the heads fitted: those given to the heads named, else
// 1, 2, 3 …
func (a account) numbers(given []int) []int {
	all := make([]int, len(a.machine.delay))
	next := 0
	for k := range all {
		switch {
		case len(given) == 0:
			all[k] = k + 1
		case slices.Contains(a.unnamed, k):
			all[k] = unnamed
		default:
			all[k] = given[next]
			next++
		}
	}
	return all
}

// leaveOutUnnamed leaves the heads that were not named out of the unit and of its
// notes; levels are those to the loudest of the rest.
func (r *Result) leaveOutUnnamed() {
	isUnnamed := func(h preset.Head) bool { return h.Head == unnamed }
	if !slices.ContainsFunc(r.Unit.Heads, isUnnamed) {
		return
	}
	r.Unit.Heads = slices.DeleteFunc(r.Unit.Heads, isUnnamed)
	r.Unit.Direct.EchoToDirect += r.level()
	for i := range r.Notes {
		n := &r.Notes[i]
		n.Heads = slices.DeleteFunc(n.Heads, isUnnamed)
		if n.Feedback != nil && slices.Contains(n.Feedback.Heads, unnamed) {
			n.Feedback = nil
		}
	}
	if f := r.Unit.Feedback; f != nil && slices.Contains(f.Heads, unnamed) {
		r.Unit.Feedback = nil
		r.Warnings = append(r.Warnings, Warning{
			What: "the loop is fed by a head that was not named, so it was left out",
			Do:   "name that head too",
		})
	}
}
