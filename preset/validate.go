package preset

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"
)

// Limits of what a unit profile may hold. They are wide: they keep out slips of
// the pen (seconds for milliseconds, amplitudes for decibels), not odd machines.
const (
	MinDelay    Millis   = 1
	MaxDelay    Millis   = 60_000
	MinLevel    Decibels = -96
	MaxHeads             = 64
	MaxLoopGain Decibels = 12
)

// A FieldError says which field is wrong and how. Path names the field as the
// file does, tables of an array counted from 0: "head.2.level_db".
type FieldError struct {
	Path    string
	Subject string // the same for a person: "head 3: level_db"
	Problem string // "+2.1: the loudest head is 0"
}

func (e *FieldError) Error() string { return e.Subject + " " + e.Problem }

// FieldErrors is every mistake that was found, in the order of the file.
type FieldErrors []*FieldError

func (e FieldErrors) Error() string {
	lines := make([]string, len(e))
	for i, f := range e {
		lines[i] = f.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives errors.As each single mistake.
func (e FieldErrors) Unwrap() []error {
	all := make([]error, len(e))
	for i, f := range e {
		all[i] = f
	}
	return all
}

// Validate reports every field that no unit can have, as [FieldErrors].
func (u Unit) Validate() error {
	var c checker
	c.name(u.Name)
	if !slices.Contains(kinds, u.Kind) {
		c.add("kind", "kind", "%q: one of tape, drum, disc, other", u.Kind)
	}
	c.text("notes", u.Notes)
	c.origin(u.Origin)
	c.heads(u.Heads)
	c.feedback(u)
	if u.Direct != nil {
		c.within("direct.echo_to_direct_db", "direct: echo_to_direct_db", float64(u.Direct.EchoToDirect), -96, 96)
	}
	c.motion(u.Motion)
	if d := u.Drive; d != nil {
		c.within("drive.gain_db", "drive: gain_db", float64(d.Gain), -60, 60)
		c.within("drive.bias", "drive: bias", d.Bias, -2, 2)
	}
	return c.result()
}

type checker struct{ found FieldErrors }

func (c *checker) add(path, subject, format string, args ...any) {
	c.found = append(c.found, &FieldError{Path: path, Subject: subject, Problem: fmt.Sprintf(format, args...)})
}

func (c *checker) result() error {
	if len(c.found) == 0 {
		return nil
	}
	return c.found
}

func (c *checker) within(path, subject string, v, low, high float64) {
	switch {
	case !finite(v):
		c.add(path, subject, "%v: must be a finite number", v)
	case v < low || v > high:
		c.add(path, subject, "%v: must lie from %v to %v", v, low, high)
	}
}

var namePattern = regexp.MustCompile(`^[a-z0-9]+([-_.][a-z0-9]+)*$`)

// CheckName reports why name cannot be the name of a unit, device or rig: it
// stands in file names on every system, so it is lower-case letters and digits
// in groups joined by single "-", "_" or ".", 64 at most.
func CheckName(name string) error {
	switch {
	case name == "":
		return fmt.Errorf("is empty: give it a name such as saltmarsh-drum-1")
	case len(name) > 64:
		return fmt.Errorf("has %d characters: 64 at most", len(name))
	case !namePattern.MatchString(name):
		return fmt.Errorf("%q: use lower-case letters, digits and single - _ . between them", name)
	}
	return nil
}

func (c *checker) name(name string) {
	if err := CheckName(name); err != nil {
		c.add("name", "name", "%v", err)
	}
}

// text refuses what could move a terminal's cursor or hide in a listing.
func (c *checker) text(path, s string) {
	if len(s) > 16<<10 {
		c.add(path, path, "has %d bytes: 16384 at most", len(s))
	}
	for _, r := range s {
		if r != '\n' && r != '\t' && !unicode.IsPrint(r) {
			c.add(path, path, "holds the control character %U: take it out", r)
			return
		}
	}
}

var sha256Pattern = regexp.MustCompile(`^[0-9a-f]{64}$`)

func (c *checker) origin(o *Origin) {
	if o == nil {
		return
	}
	c.text("origin.take", o.Take)
	if o.TakeSHA256 != "" && !sha256Pattern.MatchString(o.TakeSHA256) {
		c.add("origin.take_sha256", "origin: take_sha256", "%q: 64 lower-case hex digits", o.TakeSHA256)
	}
}

func (c *checker) heads(heads []Head) {
	if len(heads) == 0 {
		c.add("head", "head", "is missing: a unit has at least one [[head]]")
		return
	}
	if len(heads) > MaxHeads {
		c.add("head", "head", "stands %d times: %d at most", len(heads), MaxHeads)
		return
	}
	loudest := heads[0].Level
	for i, h := range heads {
		c.head(i, h)
		loudest = max(loudest, h.Level)
		if i == 0 {
			continue
		}
		path, who := fmt.Sprintf("head.%d.head", i), fmt.Sprintf("head %d:", h.Head)
		switch before := heads[i-1]; {
		case h.Head == before.Head:
			c.add(path, who, "stands twice: each head once")
		case h.Head < before.Head:
			c.add(path, who, "stands after head %d: heads in order of their numbers", before.Head)
		}
	}
	if loudest != 0 && finite(float64(loudest)) && loudest < 0 {
		c.add("head", "head", "levels: the loudest head has %v dB: it must be 0, so add %v to each", float64(loudest), -float64(loudest))
	}
}

func (c *checker) head(i int, h Head) {
	at := func(key string) (string, string) {
		return fmt.Sprintf("head.%d.%s", i, key), fmt.Sprintf("head %d: %s", h.Head, key)
	}
	within := func(key string, v, low, high float64) {
		path, subject := at(key)
		c.within(path, subject, v, low, high)
	}
	within("head", float64(h.Head), 1, MaxHeads)
	within("delay_ms", float64(h.Delay), float64(MinDelay), float64(MaxDelay))
	within("delay_sd_ms", float64(h.DelaySD), 0, float64(MaxDelay))
	within("level_sd_db", float64(h.LevelSD), 0, 96)
	within("low_cut_hz", float64(h.LowCutHz), 0, 100_000)
	within("high_cut_hz", float64(h.HighCutHz), 0, 100_000)
	path, subject := at("level_db")
	if h.Level > 0 {
		c.add(path, subject, "%+g: the loudest head is 0, the others lie below it", float64(h.Level))
		return
	}
	c.within(path, subject, float64(h.Level), float64(MinLevel), 0)
}

func (c *checker) feedback(u Unit) {
	f := u.Feedback
	if f == nil {
		return
	}
	if len(f.Heads) == 0 {
		c.add("feedback.heads", "feedback: heads", "is empty: name the heads that feed the loop, or leave [feedback] out")
	}
	for i, number := range f.Heads {
		if _, ok := u.Head(number); !ok {
			c.add("feedback.heads", "feedback: heads", "names head %d, which the unit does not have (it has %v)", number, u.HeadNumbers())
		}
		if slices.Contains(f.Heads[:i], number) {
			c.add("feedback.heads", "feedback: heads", "names head %d twice", number)
		}
	}
	c.within("feedback.gain_db", "feedback: gain_db", float64(f.Gain), float64(MinLevel), float64(MaxLoopGain))
	c.within("feedback.gain_sd_db", "feedback: gain_sd_db", float64(f.GainSD), 0, 96)
}

func (c *checker) motion(m *Motion) {
	if m == nil {
		return
	}
	for _, f := range []struct {
		key string
		v   float64
		top float64
	}{
		{"speed_ratio", m.SpeedRatio, 16},
		{"wow_percent", float64(m.WowPercent), 50}, {"wow_hz", float64(m.WowHz), 100},
		{"flutter_percent", float64(m.FlutterPercent), 50}, {"flutter_hz", float64(m.FlutterHz), 1000},
	} {
		c.within("motion."+f.key, "motion: "+f.key, f.v, 0, f.top)
	}
}
