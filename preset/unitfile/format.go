package unitfile

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"echowright/preset"
	"echowright/preset/stricttoml"
)

// Format writes a unit as the text of its file: keys in a fixed order, what is
// not known left out (a standard deviation or cut of 0, wow and flutter of 0,
// empty texts). Levels and times have at least one decimal, frequencies as few
// as they need. Of the day of the measurement the time of day is dropped. A unit
// that is not valid is refused.
func Format(u preset.Unit) ([]byte, error) {
	if err := check(u); err != nil {
		return nil, fmt.Errorf("unit %q cannot be written: %w", u.Name, err)
	}
	var w writer
	w.text("format", kind.Format())
	w.text("name", u.Name)
	w.text("kind", string(u.Kind))
	w.textIfAny("notes", u.Notes)
	w.origin(u.Origin)
	for _, h := range u.Heads {
		w.head(h)
	}
	w.feedback(u.Feedback)
	if u.Direct != nil {
		w.line("[direct]")
		w.decimal("echo_to_direct_db", float64(u.Direct.EchoToDirect))
	}
	w.motion(u.Motion)
	if u.Drive != nil {
		w.line("[drive]")
		w.decimal("gain_db", float64(u.Drive.Gain))
		w.decimal("bias", u.Drive.Bias)
	}
	return w.Bytes(), nil
}

// check is Validate and what only matters to a file.
func check(u preset.Unit) error {
	if err := u.Validate(); err != nil {
		return err
	}
	texts := []string{u.Notes}
	if u.Origin != nil {
		texts = append(texts, u.Origin.Take)
		if !u.Origin.Measured.IsZero() {
			if err := checkDay(u.Origin.Measured, false); err != nil {
				return err
			}
		}
	}
	for _, s := range texts {
		if !utf8.ValidString(s) {
			return fmt.Errorf("text %q is not UTF-8: write it anew", s)
		}
	}
	return nil
}

type writer struct{ bytes.Buffer }

func (w *writer) line(words ...string) { w.WriteString(strings.Join(words, "") + "\n") }

func (w *writer) text(key, s string) { w.line(key, " = ", stricttoml.Quote(s)) }

func (w *writer) textIfAny(key, s string) {
	if s != "" {
		w.text(key, s)
	}
}

// decimal writes a number with one decimal at least: it is read as a measure.
func (w *writer) decimal(key string, v float64) {
	digits := shortest(v)
	if !strings.ContainsAny(digits, ".e") {
		digits += ".0"
	}
	w.line(key, " = ", digits)
}

func (w *writer) decimalIfAny(key string, v float64) {
	if v != 0 {
		w.decimal(key, v)
	}
}

func (w *writer) hertzIfAny(key string, v preset.Hertz) {
	if v != 0 {
		w.line(key, " = ", shortest(float64(v)))
	}
}

// shortest has no more digits than tell v from its neighbours.
func shortest(v float64) string {
	form := byte('f')
	if v != 0 && math.Abs(v) < 1e-6 {
		form = 'e'
	}
	return strconv.FormatFloat(v+0, form, -1, 64) // + 0 makes −0 a plain 0
}

func (w *writer) origin(o *preset.Origin) {
	if o == nil {
		return
	}
	w.line("[origin]")
	w.textIfAny("take", o.Take)
	w.textIfAny("take_sha256", o.TakeSHA256)
	if !o.Measured.IsZero() {
		w.line("measured = ", o.Measured.Format(time.DateOnly))
	}
}

func (w *writer) head(h preset.Head) {
	w.line("[[head]]")
	w.line("head = ", strconv.Itoa(h.Head))
	w.decimal("delay_ms", float64(h.Delay))
	w.decimalIfAny("delay_sd_ms", float64(h.DelaySD))
	w.decimal("level_db", float64(h.Level))
	w.decimalIfAny("level_sd_db", float64(h.LevelSD))
	w.line("inverted = ", strconv.FormatBool(h.Inverted))
	w.hertzIfAny("low_cut_hz", h.LowCutHz)
	w.hertzIfAny("high_cut_hz", h.HighCutHz)
	if h.Inferred {
		w.line("inferred = true")
	}
}

func (w *writer) feedback(f *preset.Feedback) {
	if f == nil {
		return
	}
	numbers := make([]string, len(f.Heads))
	for i, head := range f.Heads {
		numbers[i] = strconv.Itoa(head)
	}
	w.line("[feedback]")
	w.line("heads = [", strings.Join(numbers, ", "), "]")
	w.decimal("gain_db", float64(f.Gain))
	w.decimalIfAny("gain_sd_db", float64(f.GainSD))
}

func (w *writer) motion(m *preset.Motion) {
	if m == nil {
		return
	}
	w.line("[motion]")
	w.decimalIfAny("speed_ratio", m.SpeedRatio)
	w.decimalIfAny("wow_percent", float64(m.WowPercent))
	w.hertzIfAny("wow_hz", m.WowHz)
	w.decimalIfAny("flutter_percent", float64(m.FlutterPercent))
	w.hertzIfAny("flutter_hz", m.FlutterHz)
}
