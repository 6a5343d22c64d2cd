package cli

import (
	"context"
	"errors"
	"fmt"

	"echowright/cmd/internal/ui"
	"echowright/midi"
	"echowright/profiles/learn"
)

// knobLimit is how many messages of one knob are kept: far more than one turned
// from end to end sends.
const knobLimit = 100_000

// runLearn learns one knob after another until nobody turns one any more.
func runLearn(ctx context.Context, c *call, e *ear, o listenOptions) error {
	c.say("turn one knob slowly from end to end, then leave it alone for %v; Ctrl-C ends it.", o.silent)
	c.say("or send two dumps of one memory, and change one parameter between them.")
	var before []learn.Finding
	learnt := 0
	for ; ; learnt++ {
		heard, err := e.turn(ctx, o)
		if len(heard) == 0 {
			if over(err) && learnt > 0 {
				return nil
			}
			return learnEnd(o, err)
		}
		found := c.learnFrom(heard, before)
		if err := c.showLearnt(found); err != nil {
			return err
		}
		if ctx.Err() != nil {
			return nil
		}
		before = found.findings
		if o.count > 0 && learnt+1 >= o.count {
			return nil
		}
		c.say("the next knob, if you like; Ctrl-C ends it")
	}
}

func learnEnd(o listenOptions, err error) error {
	if err == nil || over(err) {
		return fmt.Errorf("port %s: nothing arrived: is the device's MIDI output on this port, and does it send its knobs at all? "+
			"Many must be told to in their own menu", o.port)
	}
	return err
}

// turn gathers what one knob sends: from the first message to the first silence.
// Real-time messages do not count.
func (e *ear) turn(ctx context.Context, o listenOptions) (heard [][]byte, err error) {
	for len(heard) < knobLimit {
		patience := o.silent
		if len(heard) == 0 {
			patience = 0
		}
		m, err := e.next(ctx, patience)
		if errors.Is(err, errQuiet) {
			return heard, nil
		}
		if err != nil {
			return heard, err
		}
		if m[0] < midi.TimingClock {
			heard = append(heard, m)
		}
	}
	return heard, nil
}

// learnt is what one turn of a knob, or two dumps, told.
type learnt struct {
	findings []learn.Finding
	places   []int // bytes of System Exclusive that are the parameter's number
	dumps    *learn.Comparison
	faults   []string
}

// learnFrom takes two long messages for dumps and everything else for a knob.
func (c *call) learnFrom(heard [][]byte, before []learn.Finding) learnt {
	if len(heard) == 2 && dumpLike(heard[0]) && dumpLike(heard[1]) {
		compared, err := learn.Dumps(heard[0], heard[1])
		if err != nil {
			return learnt{faults: []string{err.Error()}}
		}
		return learnt{dumps: &compared}
	}
	l := learnt{findings: learn.Knob(heard)}
	if len(before) > 0 && len(l.findings) > 0 {
		l.places = learn.Places(before[0], l.findings[0])
	}
	return l
}

// A dump is longer than any message for a single parameter (common practice, no
// source): 24 bytes or more.
func dumpLike(m []byte) bool { return m[0] == midi.StartOfSysEx && len(m) >= 24 }

type learntView struct {
	Found    []string `json:"found"`
	Profile  []string `json:"profile,omitempty"` // lines for a device profile
	Warnings []string `json:"warnings"`
}

func (l learnt) view() learntView {
	v := learntView{Found: []string{}, Warnings: append([]string{}, l.faults...)}
	for i, f := range l.findings {
		v.Found = append(v.Found, f.String())
		if i == 0 && f.Moved() {
			v.Profile = f.Profile("NAME", l.places)
		}
	}
	if len(l.findings) > 0 && !l.findings[0].Moved() {
		v.Warnings = append(v.Warnings, "nothing moved: turn the knob from end to end, slowly")
	}
	if l.dumps != nil {
		v.Found = append(v.Found, fmt.Sprintf("%s of the message differ", ui.Count(len(l.dumps.Changed), "byte", "bytes")))
		if l.dumps.Sum != nil {
			v.Found = append(v.Found, l.dumps.Sum.String())
		}
		for _, layout := range l.dumps.Layouts {
			v.Found = append(v.Found, layout.String())
		}
	}
	return v
}

func (c *call) showLearnt(l learnt) error {
	v := l.view()
	for _, w := range v.Warnings {
		c.warn(w)
	}
	if c.json {
		return ui.JSONLine(c.out, v)
	}
	for i, f := range v.Found {
		sign := "  "
		if i == 0 {
			sign = "→ "
		}
		c.print("%s%s", sign, f)
	}
	if len(v.Profile) > 0 {
		c.print("")
		c.print("a device profile says:")
		for _, line := range v.Profile {
			c.print("    %s", line)
		}
	}
	return nil
}

// runLearnFiles learns from files of messages: two dumps, or what a knob sent.
func runLearnFiles(c *call, files []string) error {
	var heard [][]byte
	for _, path := range files {
		b, err := readText(path)
		if err != nil {
			return err
		}
		n := len(heard)
		var f midi.Framer
		keep := func(m midi.Frame) { heard = append(heard, append([]byte(nil), m.Bytes...)) }
		f.Feed(b, keep)
		f.End(keep)
		if len(heard) == n {
			return fmt.Errorf("file %s: holds no MIDI message: a .syx file holds bytes from F0 to F7", path)
		}
	}
	l := c.learnFrom(heard, nil)
	if len(l.faults) > 0 {
		return fmt.Errorf("comparing %d messages: %s", len(heard), l.faults[0])
	}
	return c.showLearnt(l)
}
