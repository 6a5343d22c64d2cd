package cli

import (
	"fmt"
	"math"
	"slices"

	"echowright/cmd/internal/ui"
	"echowright/preset"
	"echowright/profiles"
)

// A loopWatch works out what a single parameter may make of the loop of its line.
// Nobody has said what the others hold: those that were set since it began count as
// set, all else as whatever feeds back the most.
type loopWatch struct {
	device *profiles.Device
	set    map[int]int // codes by parameter
}

func newLoopWatch(d *profiles.Device) loopWatch {
	return loopWatch{device: d, set: map[int]int{}}
}

// judge refuses a trial with which the loop can reach unity, unless that is allowed,
// and warns of one that comes close. What adds nothing to the loop is always let
// through: one must be able to turn it down.
func (w loopWatch) judge(c *call, one trial, allow bool) error {
	without := math.Inf(1)
	for _, code := range loopCodes(w.device.Parameters[one.parameter]) {
		without = min(without, float64(w.gain(one.parameter, code)))
	}
	gain := float64(w.gain(one.parameter, one.code))
	w.set[one.parameter] = one.code
	name := w.device.Parameters[one.parameter].Name
	can := fmt.Sprintf("%s: with it the loop's gain can reach %s dB a turn (what this command has not set counts at its loudest)", name, ui.Signed(gain, 1))
	switch {
	case gain <= without || gain <= float64(nearUnity):
		return nil
	case gain < 0:
		c.caution(can + ": close to running away: turn your monitors down")
		return nil
	case allow:
		c.caution(can + ": each repeat may be louder than the one before: turn everything down before it sounds")
		return nil
	}
	return fmt.Errorf("%s: each repeat louder than the one before, until something gives (loudspeakers, ears); nothing was sent: "+
		"lower it, or the others before it in the same command, or give --allow-runaway and turn everything down first", can)
}

// gain is the greatest that a turn can have with the parameter at that code. Lines
// in which it has no part are kept out of it: they may be louder, but not by this.
func (w loopWatch) gain(parameter, code int) preset.Decibels {
	s := w.device.Rest()
	var open []int // those of which any code may feed back the most
	for i, p := range w.device.Parameters {
		told, known := w.set[i]
		codes := loopCodes(p)
		switch {
		case i == parameter:
			s.Codes[i] = code
		case p.Role == profiles.RoleFeedback && !shareLine(w.device, parameter, i):
			s.Codes[i] = codes[1]
		case known:
			s.Codes[i] = told
		case p.Role == profiles.RoleFeedbackTap:
			open = append(open, i)
		case len(codes) > 0:
			s.Codes[i] = codes[0]
		}
	}
	for _, i := range open {
		w.choose(s, i)
	}
	return w.device.LoopGain(s)
}

// shareLine reports whether two parameters are of one line.
func shareLine(d *profiles.Device, a, b int) bool {
	return slices.ContainsFunc(d.Lines, func(l profiles.Line) bool { return ofLine(l, a) && ofLine(l, b) })
}

func ofLine(l profiles.Line, parameter int) bool {
	for _, role := range []profiles.Role{profiles.RoleFeedback, profiles.RoleFeedbackTap, profiles.RoleLevel, profiles.RoleTime, profiles.RoleNote} {
		its := func(t profiles.Tap) bool { return t.Parameter(role) == parameter }
		if l.Parameter(role) == parameter || slices.ContainsFunc(l.Taps, its) {
			return true
		}
	}
	return false
}

// choose sets a parameter to the code with which the loop is loudest.
func (w loopWatch) choose(s profiles.Setting, parameter int) {
	loudest, at := math.Inf(-1), s.Codes[parameter]
	for _, code := range loopCodes(w.device.Parameters[parameter]) {
		s.Codes[parameter] = code
		if gain := float64(w.device.LoopGain(s)); gain > loudest {
			loudest, at = gain, code
		}
	}
	s.Codes[parameter] = at
}

// loopCodes are the codes of a parameter between which a loop is at its loudest and
// at its least: the loudest first, but for the choice of a tap, where all count.
// There are none where the parameter has no part in it.
func loopCodes(p profiles.Parameter) []int {
	switch p.Role {
	case profiles.RoleFeedback, profiles.RoleLevel:
		return []int{byAmplitude(p.Scale, func(a, b float64) bool { return a > b }), byAmplitude(p.Scale, func(a, b float64) bool { return a < b })}
	case profiles.RoleTime, profiles.RoleNote: // a tap that is switched off feeds nothing back
		on, _ := p.Scale.Numbers()
		if off, can := p.Scale.Off(); can {
			return []int{on, off}
		}
	case profiles.RoleFeedbackTap:
		return heldCodes(p.Scale)
	}
	return nil
}

// byAmplitude is the code whose amplitude comes before those of all others.
func byAmplitude(s *profiles.Scale, before func(a, b float64) bool) int {
	codes := heldCodes(s)
	best := codes[0]
	for _, code := range codes {
		if before(math.Abs(s.Amplitude(code)), math.Abs(s.Amplitude(best))) {
			best = code
		}
	}
	return best
}

// heldCodes are the codes that mean something.
func heldCodes(s *profiles.Scale) (all []int) {
	for code := s.Low; code <= s.High(); code++ {
		if s.Holds(code) {
			all = append(all, code)
		}
	}
	return all
}
