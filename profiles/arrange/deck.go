package arrange

import (
	"fmt"

	"echowright/preset"
	"echowright/profiles"
)

// A deck is a device's lines as the arranger sees them. The lines of a profile
// are all alike, so the first stands for all.
type deck struct {
	device   *profiles.Device
	time     ladder
	level    ladder // nil: every line is as loud as it is
	feedback ladder // nil: lines have none
	turned   ladder // feedback that turns the sign; empty: it has none
	longest  preset.Millis
	sources  bool // a line can take another one for its source
	cuts     []cut
	known    map[loopWish][]loop
	nearCuts map[timbre]cut
	tapped   bool // memories are read by taps with times and levels of their own
	coarse   bool // no two lines can nearly coincide
}

// unity is what feedback stays below, whatever cuts take at 1 kHz: at other
// frequencies they take less.
const unity preset.Decibels = -0.01

func newDeck(d *profiles.Device) (*deck, error) {
	if len(d.Lines) == 0 {
		return nil, fmt.Errorf("device %q has no delay line", d.Name)
	}
	k := &deck{device: d, known: map[loopWish][]loop{}, nearCuts: map[timbre]cut{}}
	d0 := d.Lines[0]
	k.tapped = d0.Tapped()
	if i := timeOf(d0.Taps[0]); i != profiles.None {
		k.time = times(d.Parameters[i].Scale)
	}
	if len(k.time) == 0 {
		return nil, fmt.Errorf("device %q: its lines have no parameter for their time", d.Name)
	}
	k.coarse = k.time.step() >= coarseStep
	k.longest = k.longestOf(timeOf(d0.Taps[0]))
	if i := d0.Taps[0].Parameter(profiles.RoleLevel); i != profiles.None {
		k.level = amplitudes(d.Parameters[i].Scale, 1)
	}
	if s := k.scale(profiles.RoleFeedback); s != nil {
		k.feedback = amplitudes(s, unity.Amplitude())
		k.turned = turned(s, unity.Amplitude())
	}
	if len(d.Lines) > 1 {
		_, k.sources = d.SourceCode(d.Lines[1], 0)
	}
	k.cuts = cuts(d, d.Lines[0])
	return k, nil
}

// longestOf is the longest time that a parameter comes to: where it is a share or a
// multiple of another, with that one at whichever end makes it longer.
func (k *deck) longestOf(time int) preset.Millis {
	of := k.device.Parameters[time].Of
	if of < 0 {
		return preset.Millis(k.time.top())
	}
	s := k.device.Rest()
	s.Codes[time] = k.time[len(k.time)-1].code
	longest := preset.Millis(0)
	if ends := k.device.Parameters[of].Scale.Rising(); len(ends) > 0 {
		for _, code := range []int{ends[0], ends[len(ends)-1]} {
			s.Codes[of] = code
			if v, ok, err := k.device.Number(time, s); ok && err == nil {
				longest = max(longest, preset.Millis(v))
			}
		}
	}
	return longest
}

// scale is that of a role, nil if the lines have no such parameter.
func (k *deck) scale(r profiles.Role) *profiles.Scale {
	i := k.device.Lines[0].Parameter(r)
	if i == profiles.None {
		return nil
	}
	return k.device.Parameters[i].Scale
}

// put sets a line's parameter, where the line has one.
func (k *deck) put(s profiles.Setting, line int, r profiles.Role, code int) {
	if i := k.device.Lines[line].Parameter(r); i != profiles.None {
		s.Codes[i] = code
	}
}

// codes is the setting in which line i plays voice i, as loud as it can, and
// everything else is at rest.
func (k *deck) codes(lines []voice) (profiles.Setting, error) {
	s := k.device.Rest()
	for i, v := range lines {
		if err := k.set(s, i, v); err != nil {
			return s, err
		}
	}
	return s, nil
}

// set gives a line all of a voice but its level.
func (k *deck) set(s profiles.Setting, line int, v voice) error {
	l := k.device.Lines[line]
	code, ok := k.device.SourceCode(l, v.source)
	if !ok {
		return fmt.Errorf("device %q: line %q cannot be fed from line %d", k.device.Name, l.Name, v.source+1)
	}
	k.put(s, line, profiles.RoleSource, code)
	k.put(s, line, profiles.RoleTime, v.time)
	k.put(s, line, profiles.RoleHighCut, v.cut.high)
	k.put(s, line, profiles.RoleLowCut, v.cut.low)
	if v.gain > 0 {
		k.put(s, line, profiles.RoleFeedback, v.feedback)
	}
	if k.level != nil {
		k.put(s, line, profiles.RoleLevel, k.level[len(k.level)-1].code)
	}
	k.putPolarity(s, line, v.inverted)
	return nil
}

func (k *deck) putPolarity(s profiles.Setting, line int, inverted bool) {
	i := k.device.Lines[line].Parameter(profiles.RolePolarity)
	if i == profiles.None || !inverted {
		return
	}
	if code, ok := k.device.Parameters[i].Scale.Choose(profiles.WordInverted); ok {
		s.Codes[i] = code
	}
}

// loudest is the amplitude of a line's level as codes sets it.
func (k *deck) loudest() float64 {
	if k.level == nil {
		return 1
	}
	return k.level.top()
}

// roundingCost is the error below which all that is left is rounding.
func (k *deck) roundingCost() float64 {
	if k.coarse {
		return exactCost * 1e-3
	}
	return onlyRounding
}
