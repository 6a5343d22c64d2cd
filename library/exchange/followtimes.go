package exchange

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"echowright/midi"
	"echowright/preset"
	"echowright/profiles"
)

// times are the parameters of a setting that go with the tempo, and what they are
// at the tempo that it was worked out for. At any other they are as much longer as
// a beat is; everything else stays. What rounding to the device's steps took from
// them at the first tempo (half a step at most) is scaled with them.
type times struct {
	device  *profiles.Device
	unit    int
	base    profiles.Setting
	tempo   preset.BPM
	moving  []moving      // in the order of lines and taps
	longest preset.Millis // of the delays that move
}

// A moving parameter, and its number at the first tempo: in the unit of its scale.
type moving struct {
	parameter int
	number    float64
	kind      movingKind
	room      preset.Millis // of a note: the longest that its tap can do
	idle      bool          // nothing is heard by it: it only makes room for those that are
}

type movingKind int

const (
	movingTime  movingKind = iota // grows with a beat
	movingTempo                   // of the device's own: goes with that of the clock
	movingNote                    // of the clock that the device follows itself: stays
)

// The units of scales that are known here (see [profiles.Scale]).
const (
	unitMillis = "ms"
	unitBPM    = "BPM"
)

// mostHalvings is where a time is a 64th of what was wanted: no echo of that song.
const mostHalvings = 6

// errBeyond says that at some tempo a time is out of the device's reach.
var errBeyond = errors.New("beyond the device's reach")

// newTimes finds what goes with the tempo in a setting that was worked out for it.
// Taps that the device can put on note values of the clock are moved there. Times
// by which nothing is heard stay, unless taps must keep their order. The error
// wraps [profiles.ErrCannot] where one that has to move cannot be set alone.
func newTimes(d *profiles.Device, unit int, s profiles.Setting, tempo preset.BPM) (*times, error) {
	t := &times{device: d, unit: unit, base: s.Clone(), tempo: tempo}
	for _, l := range d.Lines {
		for _, tap := range l.Taps {
			delay, on, err := d.Delay(tap, s)
			if err != nil {
				return nil, err
			}
			if !on || delay == 0 {
				continue
			}
			if err := t.move(tap, delay); err != nil {
				return nil, err
			}
		}
	}
	if t.longest == 0 {
		return nil, fmt.Errorf("device %q: no echo of this unit can be had from it: there is nothing that could follow a clock", d.Name)
	}
	return t, nil
}

// move takes up what decides over a tap's delay, if anything is heard by it.
func (t *times) move(tap profiles.Tap, delay preset.Millis) error {
	d := t.device
	root := rootOf(d, tap, t.base)
	heard, err := t.heardBy(root)
	ordered := d.Limits.Ascending || d.Limits.Distance > 0
	if err != nil || !heard && !ordered {
		return err
	}
	m := moving{parameter: root, number: d.Parameters[root].Scale.Value(t.base.Codes[root]).Number}
	if note := tap.Parameter(profiles.RoleNote); note != profiles.None && d.Parameters[note].Of == profiles.Clock {
		m = moving{parameter: note, number: float64(delay / beat(t.tempo)), kind: movingNote, room: roomOf(d, tap)}
	} else if d.Parameters[root].Scale.Unit == unitBPM {
		m.kind = movingTempo
	}
	if m.idle = !heard; heard {
		t.longest = max(t.longest, delay)
	}
	if slices.ContainsFunc(t.moving, func(other moving) bool { return other.parameter == m.parameter }) {
		return nil
	}
	t.moving = append(t.moving, m)
	return checkSettable(d, m.parameter)
}

func checkSettable(d *profiles.Device, parameter int) error {
	if d.Sendable(parameter) {
		return nil
	}
	return fmt.Errorf("device %q: %s cannot be set while it sounds, only as a part of a slot, so it cannot follow a clock: "+
		"push a slot for each tempo instead: %w", d.Name, d.Parameters[parameter].Name, profiles.ErrCannot)
}

// rootOf is the parameter that a tap's delay goes back to: its time, or what that
// is a share or a multiple of; None where only the clock decides.
func rootOf(d *profiles.Device, tap profiles.Tap, s profiles.Setting) int {
	i := tap.Parameter(profiles.RoleTime)
	if note := tap.Parameter(profiles.RoleNote); note != profiles.None && d.Parameters[note].Of != profiles.Clock &&
		(i == profiles.None || d.Parameters[note].Scale.Value(s.Codes[note]).Word == "") {
		i = note
	}
	for i >= 0 && d.Parameters[i].Of >= 0 {
		i = d.Parameters[i].Of
	}
	return i
}

// roomOf is the longest that a tap can do, by its own time.
func roomOf(d *profiles.Device, tap profiles.Tap) preset.Millis {
	room := preset.Millis(math.Inf(1))
	if d.Limits.Longest > 0 {
		room = d.Limits.Longest
	}
	if i := tap.Parameter(profiles.RoleTime); i != profiles.None && d.Parameters[i].Scale.Unit == unitMillis {
		_, high := d.Parameters[i].Scale.Range()
		room = min(room, preset.Millis(high))
	}
	return room
}

// heardBy reports whether a parameter makes a difference to what is heard.
func (t *times) heardBy(parameter int) (bool, error) {
	other := t.base.Clone()
	rising := t.device.Parameters[parameter].Scale.Rising()
	other.Codes[parameter] = rising[0]
	if rising[0] == t.base.Codes[parameter] {
		other.Codes[parameter] = rising[len(rising)-1]
	}
	is, err := t.device.Network(t.base)
	if err != nil {
		return false, err
	}
	was, err := t.device.Network(other)
	return !slices.Equal(heardPaths(is), heardPaths(was)), err
}

// heardPaths are the paths of a network that lead to its output in the end.
func heardPaths(n preset.Network) []preset.Path {
	leads := map[int]bool{preset.Output: true}
	for range n.Nodes {
		for _, p := range n.Paths {
			leads[p.From] = leads[p.From] || leads[p.To]
		}
	}
	return slices.DeleteFunc(n.Paths, func(p preset.Path) bool { return !leads[p.To] })
}

func beat(tempo preset.BPM) preset.Millis { return preset.Note{Denominator: 4}.Length(tempo) }

// factor is how much longer times are at a tempo, halved so often.
func (t *times) factor(tempo preset.BPM, halved int) float64 {
	return math.Ldexp(float64(t.tempo/tempo), -halved)
}

// at is the setting at a tempo with its times halved so often; the error wraps
// [errBeyond] where the device does not reach so far.
func (t *times) at(tempo preset.BPM, halved int) (profiles.Setting, error) {
	s := t.base.Clone()
	for _, m := range t.moving {
		code, ok := t.code(m, tempo, halved)
		if !ok {
			return s, fmt.Errorf("%s: %w", t.device.Parameters[m.parameter].Name, errBeyond)
		}
		s.Codes[m.parameter] = code
	}
	if err := t.device.Check(s); err != nil {
		return s, fmt.Errorf("%w: %w", errBeyond, err)
	}
	return s, nil
}

// code is what a moving parameter is set to; false where it does not reach so far.
func (t *times) code(m moving, tempo preset.BPM, halved int) (int, bool) {
	scale := t.device.Parameters[m.parameter].Scale
	if m.kind == movingNote {
		return noteCode(scale, math.Ldexp(m.number, -halved), float64(m.room/beat(tempo)))
	}
	v := m.number * t.factor(tempo, halved)
	if m.kind == movingTempo {
		v = m.number / t.factor(tempo, halved)
	}
	if longest := float64(t.device.Limits.Longest); m.idle && longest > 0 && scale.Unit == unitMillis {
		v = min(v, longest)
	}
	low, high := scale.Range()
	slack := scale.WorstRounding()
	return scale.Nearest(v), m.idle || v >= low-slack && v <= high+slack
}

// noteCode is the note value nearest to so many beats that is no longer than room.
func noteCode(scale *profiles.Scale, beats, room float64) (code int, ok bool) {
	const rounding = 1e-9
	if beats > room*(1+rounding) {
		return 0, false
	}
	least := math.Inf(1)
	for _, c := range scale.Rising() {
		length := scale.Value(c).Number
		if off := math.Abs(length - beats); off < least && length <= room*(1+rounding) {
			code, least, ok = c, off, true
		}
	}
	return code, ok
}

// within is the setting at a tempo, its times halved as often as it takes to come
// within the device's reach. To be halved less often than before, they must be
// within it by what can just be noticed, lest a tempo at the edge flutter.
func (t *times) within(tempo preset.BPM, before int) (s profiles.Setting, halved int, err error) {
	const margin = 0.975
	for halved = range mostHalvings + 1 {
		if s, err = t.at(tempo, halved); err != nil {
			continue
		}
		if halved < before {
			if _, err := t.at(tempo*margin, halved); err != nil {
				continue
			}
		}
		return s, halved, nil
	}
	return s, 0, fmt.Errorf("device %q: the times that go with %.1f BPM are out of its reach: %w", t.device.Name, float64(tempo), err)
}

// steps sets what differs between two settings, one tap after the other: from the
// last on where times grow, from the first on where they shrink. So none overtakes
// another on the way, and no sum of them is ever more than it is at one of the ends.
func (t *times) steps(from, to profiles.Setting) ([]midi.Step, error) {
	var all []midi.Step
	var changed []int
	grows := false
	for _, m := range t.moving {
		if i := m.parameter; from.Codes[i] != to.Codes[i] {
			scale := t.device.Parameters[i].Scale
			changed = append(changed, i)
			rises := scale.Value(to.Codes[i]).Number > scale.Value(from.Codes[i]).Number
			grows = rises != (m.kind == movingTempo)
		}
	}
	if grows {
		slices.Reverse(changed)
	}
	for _, i := range changed {
		step, err := t.device.SetStep(t.unit, i, to.Codes[i])
		if err != nil {
			return nil, err
		}
		all = append(all, step)
	}
	return all, nil
}
