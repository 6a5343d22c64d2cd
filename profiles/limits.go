package profiles

import (
	"errors"
	"fmt"

	"echowright/preset"
)

// slack is what the sum of times may lose in the reckoning.
const slack preset.Millis = 1e-6

// checkTimes refuses values out of the reach that another parameter leaves them,
// and times that break the device's limits.
func (d *Device) checkTimes(s Setting) error {
	for i, p := range d.Parameters {
		if err := d.checkReach(i, p, s); err != nil {
			return err
		}
	}
	if d.Limits == (Limits{}) {
		return nil
	}
	total := preset.Millis(0)
	for _, l := range d.Lines {
		longest, err := d.checkTaps(l, s)
		if err != nil {
			return err
		}
		total += longest
	}
	if most := d.Limits.Total; most > 0 && total > most+slack {
		return fmt.Errorf("the lines take %v together: device %q has memory for %v", total, d.Name, most)
	}
	return nil
}

func (d *Device) checkReach(i int, p Parameter, s Setting) error {
	if p.Reach == nil {
		return nil
	}
	v := p.Scale.Value(s.Codes[i])
	decides := d.Parameters[p.Reach.Of]
	word := decides.Scale.Value(s.Codes[p.Reach.Of]).Word
	span, ok := p.Reach.Ranges[word]
	if !ok || v.Word != "" || v.Number >= span.Low && v.Number <= span.High {
		return nil
	}
	return fmt.Errorf("%s: %v %s: with %s = %s device %q takes %v to %v", p.Name, v, p.Scale.Unit, decides.Name, word, d.Name, span.Low, span.High)
}

// checkTaps gives the longest time of a line's taps. Taps that are switched off
// or follow the MIDI clock are no matter here.
func (d *Device) checkTaps(l Line, s Setting) (longest preset.Millis, err error) {
	times := make([]preset.Millis, 0, len(l.Taps))
	for _, t := range l.Taps {
		at, ok, err := d.Delay(t, s)
		if errors.Is(err, ErrClock) || !ok {
			continue
		}
		if most := d.Limits.Longest; most > 0 && at > most+slack {
			return 0, fmt.Errorf("%s: %v: device %q has %v at the longest", tapName(l, t), at, d.Name, most)
		}
		longest = max(longest, at)
		for _, before := range times {
			if err := d.checkPair(before, at); err != nil {
				return 0, fmt.Errorf("%s: %w", tapName(l, t), err)
			}
		}
		times = append(times, at)
	}
	return longest, nil
}

// checkPair judges the times of two taps of which the first stands first.
func (d *Device) checkPair(before, at preset.Millis) error {
	limits := d.Limits
	if limits.Ascending && at < before-slack {
		return fmt.Errorf("%v after a tap at %v: device %q wants its taps in the order of their times", at, before, d.Name)
	}
	if distance := max(at-before, before-at); distance < limits.Distance-slack {
		return fmt.Errorf("%v beside a tap at %v: device %q wants %v between them", at, before, d.Name, limits.Distance)
	}
	return nil
}

func tapName(l Line, t Tap) string {
	if t.Name == "" {
		return fmt.Sprintf("line %q", l.Name)
	}
	return fmt.Sprintf("line %q: tap %q", l.Name, t.Name)
}
