package signals

import (
	"fmt"
	"math"

	"echowright/preset"
)

// Longest is the longest signal, in seconds.
const Longest = 3600

// Validate reports every figure that no signal can have, as [preset.FieldErrors].
func (s Signal) Validate() error {
	var c checker
	c.within("rate_hz", float64(s.Rate), 8000, 192_000)
	if s.Rate != preset.Hertz(math.Round(float64(s.Rate))) {
		c.add("rate_hz", "%v: must be a whole number", float64(s.Rate))
	}
	c.within("level_dbfs", float64(s.Level), -80, 0)
	c.within("lead_ms", float64(s.Lead), 20, 60_000)
	c.within("tail_ms", float64(s.Tail), 0, 60_000)
	if s.Kind() == "" {
		c.add("", "holds %d of [sweep], [clicks], [tone] and [steps]: a signal is exactly one of them", len(s.kinds()))
	}
	if len(c.found) == 0 {
		c.part(s)
	}
	if len(c.found) == 0 && s.Seconds() > Longest {
		c.add("", "lasts %.0f s: %d s at most", s.Seconds(), Longest)
	}
	if len(c.found) == 0 {
		return nil
	}
	return c.found
}

type checker struct{ found preset.FieldErrors }

func (c *checker) add(path, format string, args ...any) {
	subject := path
	if path == "" {
		subject = "signal"
	}
	c.found = append(c.found, &preset.FieldError{Path: path, Subject: subject, Problem: fmt.Sprintf(format, args...)})
}

func (c *checker) within(path string, v, low, high float64) {
	if !(v >= low && v <= high) { // so that nan is refused too
		c.add(path, "%v: must lie from %v to %v", v, low, high)
	}
}

func (c *checker) part(s Signal) {
	// What a filter at the recorder's input leaves of the highest frequencies is
	// not worth measuring.
	top := 0.45 * float64(s.Rate)
	switch {
	case s.Sweep != nil:
		c.sweep(*s.Sweep, top)
	case s.Clicks != nil:
		c.within("clicks.count", float64(s.Clicks.Count), 1, 1000)
		c.within("clicks.spacing_ms", float64(s.Clicks.Spacing), 20, 60_000)
		c.within("clicks.high_cut_hz", float64(s.Clicks.HighCut), 500, top)
	case s.Tone != nil:
		c.within("tone.frequency_hz", float64(s.Tone.Frequency), 20, top)
		c.within("tone.seconds", s.Tone.Seconds, 0.1, Longest)
		c.fade("tone.fade_ms", s.Tone.Fade, preset.Millis(1000*s.Tone.Seconds/2))
	case s.Steps != nil:
		c.steps(*s.Steps, s.Level, top)
	}
}

func (c *checker) sweep(w Sweep, top float64) {
	c.within("sweep.from_hz", float64(w.From), 1, top/2)
	c.within("sweep.to_hz", float64(w.To), 2, top)
	if w.To < 2*w.From {
		c.add("sweep.to_hz", "%v: must lie an octave or more above from_hz, which is %v", float64(w.To), float64(w.From))
	}
	c.within("sweep.seconds", w.Seconds, 0.1, Longest)
	half := preset.Millis(1000 * w.Seconds / 2)
	c.fade("sweep.fade_in_ms", w.FadeIn, half)
	c.fade("sweep.fade_out_ms", w.FadeOut, half)
}

func (c *checker) steps(w Steps, level preset.Decibels, top float64) {
	c.within("steps.frequency_hz", float64(w.Frequency), 20, top)
	c.within("steps.count", float64(w.Count), 2, 100)
	c.within("steps.step_db", float64(w.Step), 0.1, 20)
	c.within("steps.burst_ms", float64(w.Burst), 10, 10_000)
	c.within("steps.gap_ms", float64(w.Gap), 10, 60_000)
	c.fade("steps.fade_ms", w.Fade, w.Burst/4)
	if softest := level - w.Step*preset.Decibels(w.Count-1); softest < -120 {
		c.add("steps.count", "%d: the first burst would have %.0f dBFS; take fewer or smaller steps, down to -120 dBFS", w.Count, float64(softest))
	}
}

func (c *checker) fade(path string, v, most preset.Millis) {
	c.within(path, float64(v), 0, float64(most))
}
