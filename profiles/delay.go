package profiles

import (
	"errors"
	"fmt"

	"echowright/preset"
)

// A Reach is the values that a parameter can take beside each choice of another.
type Reach struct {
	Of     int // index of the parameter that decides
	Ranges map[string]Span
}

// A Span is the values from Low to High, both included.
type Span struct{ Low, High float64 }

// ErrClock says that a time follows a MIDI clock, whose tempo no setting holds.
var ErrClock = errors.New("the time follows the MIDI clock, whose tempo is not known here")

// Number is what a parameter comes to in its own unit, or in that of the
// parameter of which it is a share or a multiple: 25 % of 400 ms is 100 (ms),
// 1/8 at 120 BPM is 250 (ms). False where its code, or that one's, is a word.
// The error wraps [ErrClock].
func (d *Device) Number(parameter int, s Setting) (v float64, ok bool, err error) {
	p := d.Parameters[parameter]
	value := p.Scale.Value(s.Codes[parameter])
	if value.Word != "" {
		return 0, false, nil
	}
	if p.Of == None {
		return value.Number, true, nil
	}
	if p.Of == Clock {
		return 0, false, fmt.Errorf("%s: %w", p.Name, ErrClock)
	}
	whole, ok, err := d.Number(p.Of, s)
	if err != nil || !ok {
		return 0, false, err
	}
	switch {
	case p.Scale.Unit == unitPercent:
		return whole * value.Number / 100, true, nil
	case d.Parameters[p.Of].Scale.Unit == unitBPM && whole > 0:
		return value.Number * float64(preset.Note{Denominator: 4}.Length(preset.BPM(whole))), true, nil
	case d.Parameters[p.Of].Scale.Unit == unitBPM:
		return 0, false, nil // no tempo, no time
	}
	return whole * value.Number, true, nil
}

const (
	unitPercent = "%"
	unitBPM     = "BPM"
	unitBeats   = "beats"
	unitMillis  = "ms"
)

// Delay is how far behind the line's input the tap reads: what its note value
// says, where it has one that is not off, else its time. False where the tap is
// switched off. The error wraps [ErrClock].
func (d *Device) Delay(t Tap, s Setting) (delay preset.Millis, ok bool, err error) {
	for _, r := range []Role{RoleNote, RoleTime} {
		i := t.Parameter(r)
		if i == None {
			continue
		}
		v, ok, err := d.Number(i, s)
		if ok || err != nil {
			return preset.Millis(v), ok, err
		}
	}
	return 0, false, nil
}
