package profiles

import (
	"fmt"

	"echowright/preset"
)

// Tone is what the line's cuts are set to.
func (d *Device) Tone(l Line, s Setting) preset.Tone {
	return preset.Tone{LowCut: d.cut(l, RoleLowCut, s), HighCut: d.cut(l, RoleHighCut, s)}
}

func (d *Device) cut(l Line, r Role, s Setting) preset.Hertz {
	i := l.Parameter(r)
	if i == None {
		return 0
	}
	v := d.Parameters[i].Scale.Value(s.Codes[i])
	if v.Word != "" {
		return 0
	}
	return preset.Hertz(v.Number)
}

// Amplitude is the amplitude ratio, with its sign, that a parameter in dB is set
// to: 0 where it is silent, 1 where the device has no such parameter.
func (d *Device) Amplitude(parameter int, s Setting) float64 {
	if parameter == None {
		return 1
	}
	return d.Parameters[parameter].Scale.Amplitude(s.Codes[parameter])
}

// DryLevel is the level of the direct sound; −Inf where it is silent.
func (d *Device) DryLevel(s Setting) preset.Decibels {
	direct, _ := d.balance(s)
	return preset.FromAmplitude(direct * d.Amplitude(d.Dry, s))
}

// Mix is the amplitude by which all echoes are multiplied, whatever their line.
func (d *Device) Mix(s Setting) float64 {
	_, echoes := d.balance(s)
	return echoes * d.Amplitude(d.Shared(RoleMix), s)
}

// balance is what the balance leaves of the direct sound and of the echoes.
func (d *Device) balance(s Setting) (direct, echoes float64) {
	i := d.Shared(RoleBalance)
	if i == None {
		return 1, 1
	}
	share := d.Parameters[i].Scale.Value(s.Codes[i]).Number / 100
	return 1 - share, share
}

// Heard is the amplitude, with its sign, at which a tap is heard before the
// device's mix: its own level and polarity, and those of its line.
func (d *Device) Heard(l Line, t Tap, s Setting) float64 {
	a := d.tapGain(t, s)
	if l.named {
		a *= d.gain(l.parameters, s)
	}
	return a
}

// tapGain is a tap's own level and polarity.
func (d *Device) tapGain(t Tap, s Setting) float64 { return d.gain(t.parameters, s) }

func (d *Device) gain(parameters map[Role]int, s Setting) float64 {
	a := d.Amplitude(indexOf(parameters, RoleLevel), s)
	if d.turns(indexOf(parameters, RolePolarity), s) {
		return -a
	}
	return a
}

func (d *Device) turns(polarity int, s Setting) bool {
	return polarity != None && d.Parameters[polarity].Scale.Value(s.Codes[polarity]).Word == WordInverted
}

// WordInverted is the choice of a polarity parameter that turns the sign.
const WordInverted = "inverted"

// WordNormal is the other one.
const WordNormal = "normal"

// Feedback is the amplitude, with its sign, by which the line's loop is
// multiplied each turn, its tone not reckoned in; 0 where it has none.
func (d *Device) Feedback(l Line, s Setting) float64 {
	i := l.Parameter(RoleFeedback)
	if i == None {
		return 0
	}
	if d.turns(l.Parameter(RoleFeedbackPolarity), s) {
		return -d.Amplitude(i, s)
	}
	return d.Amplitude(i, s)
}

func (d *Device) sourceNode(l Line, s Setting) (int, error) {
	i := l.Parameter(RoleSource)
	if i == None {
		return 0, nil
	}
	word := d.Parameters[i].Scale.Value(s.Codes[i]).Word
	if word == InputWord {
		return 0, nil
	}
	k := d.lineOfSource(word)
	if k == None {
		return 0, fmt.Errorf("line %q: source %q is no line of device %q", l.Name, word, d.Name)
	}
	return k + 1, nil
}

// checkCircle refuses sources that come back to their own line.
func (d *Device) checkCircle(s Setting) error {
	for _, l := range d.Lines {
		at := l
		for range d.Lines {
			node, err := d.sourceNode(at, s)
			if err != nil {
				return err
			}
			if node == 0 {
				break
			}
			at = d.Lines[node-1]
			if at.Name == l.Name {
				return fmt.Errorf("line %q: its sources run in a circle", l.Name)
			}
		}
	}
	return nil
}

// Echoes is every echo that the setting makes, direct sound not counted, in dB
// on the device's own scale (0 dB: as loud as what comes in), down to floor
// within limit.
func (d *Device) Echoes(s Setting, floor preset.Decibels, limit preset.Millis) ([]preset.Echo, error) {
	n, err := d.Network(s)
	if err != nil {
		return nil, err
	}
	return n.Train(floor, limit)
}
