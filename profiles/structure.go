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

// Amplitude is the amplitude ratio that a parameter in dB is set to: 0 where it
// is silent, 1 where the device has no such parameter.
func (d *Device) Amplitude(parameter int, s Setting) float64 {
	if parameter == None {
		return 1
	}
	v := d.Parameters[parameter].Scale.Value(s.Codes[parameter])
	if v.Word != "" {
		return 0
	}
	return preset.Decibels(v.Number).Amplitude()
}

// DryLevel is the level of the direct sound; −Inf where it is silent.
func (d *Device) DryLevel(s Setting) preset.Decibels {
	return preset.FromAmplitude(d.Amplitude(d.Dry, s))
}

// Network is the signal flow that the setting makes, at 1 kHz:
//
//	y(t) = x_s(t − d) + f·y(t − d),  heard at level · polarity
//
// for every line, its tone passed once by whatever passes the line. Node 0 is
// the input, node n+1 the output of line n. The error says which sources run in
// a circle. The setting must pass Check.
func (d *Device) Network(s Setting) (preset.Network, error) {
	n := preset.Network{Nodes: 1 + len(d.Lines)}
	for i, l := range d.Lines {
		source, err := d.sourceNode(l, s)
		if err != nil {
			return preset.Network{}, err
		}
		time := l.Parameter(RoleTime)
		delay := preset.Millis(d.Parameters[time].Scale.Value(s.Codes[time]).Number)
		damped := d.Tone(l, s).Magnitude(preset.Reference)
		n.Paths = append(n.Paths, preset.Path{From: source, To: i + 1, Delay: delay, Gain: damped})
		if f := l.Parameter(RoleFeedback); f != None {
			if gain := damped * d.Amplitude(f, s); gain > 0 {
				n.Paths = append(n.Paths, preset.Path{From: i + 1, To: i + 1, Delay: delay, Gain: gain})
			}
		}
		if level := d.lineLevel(l, s); level != 0 {
			n.Paths = append(n.Paths, preset.Path{From: i + 1, To: preset.Output, Gain: level})
		}
	}
	return n, d.checkCircle(s)
}

func (d *Device) lineLevel(l Line, s Setting) float64 {
	level := d.Amplitude(l.Parameter(RoleLevel), s)
	if p := l.Parameter(RolePolarity); p != None && d.Parameters[p].Scale.Value(s.Codes[p]).Word == WordInverted {
		level = -level
	}
	return level
}

// WordInverted is the choice of a polarity parameter that turns the sign.
const WordInverted = "inverted"

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
