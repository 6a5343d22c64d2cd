package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"echowright/preset"
	"echowright/preset/render"
	"echowright/profiles"
)

// soundingDevice is the setting that plan would choose, as the device plays it.
func (o *renderOptions) soundingDevice(c *call, cmd *cobra.Command, name string) (sounding, error) {
	d, err := c.device(o.device)
	if err != nil {
		return sounding{}, err
	}
	p, err := o.wanted.plan(c, cmd, name, d)
	if err != nil {
		return sounding{}, err
	}
	g, err := deviceGraph(d, p.Setting)
	if err != nil {
		return sounding{}, fmt.Errorf("device %q: %w", d.Name, err)
	}
	dry := d.DryLevel(p.Setting).Amplitude() * o.directGain()
	if dry > 0 {
		g.Heard = append(g.Heard, render.Path{From: render.Input, Gain: dry})
	}
	s := sounding{unit: p.unit.Name, device: d.Name, graph: g, warnings: p.Warnings}
	s.lasts = lasting(d.Echoes(p.Setting, preset.TrainFloor, longestTail))
	if dry == 0 && !o.wetOnly {
		s.warnings = append(s.warnings, fmt.Sprintf("device %q is set to give no direct sound, so there is none in the rendering", d.Name))
	}
	return s, nil
}

// deviceGraph is the signal flow of [profiles.Device.Network] with its cuts and its
// drive: what the device makes of sound, without the direct sound.
func deviceGraph(d *profiles.Device, s profiles.Setting) (render.Graph, error) {
	if _, err := d.Network(s); err != nil { // sources in a circle, times that follow a clock
		return render.Graph{}, err
	}
	b := flowBuilder{device: d, setting: s, input: render.Input, sent: make([][]render.Path, len(d.Lines)), drawn: make([]bool, len(d.Lines))}
	if drive := deviceDrive(d, s); drive != nil {
		b.input = b.node(render.Node{From: []render.Path{{From: render.Input, Gain: 1}}, Drive: drive})
	}
	for i := range d.Lines {
		if err := b.line(i); err != nil {
			return render.Graph{}, err
		}
	}
	return b.graph, nil
}

// deviceDrive is the drive stage before the lines; nil where it takes nothing.
func deviceDrive(d *profiles.Device, s profiles.Setting) *preset.Drive {
	i := d.Shared(profiles.RoleDrive)
	if i == profiles.None {
		return nil
	}
	v := d.Parameters[i].Scale.Value(s.Codes[i])
	if v.Word != "" || v.Number <= 0 {
		return nil
	}
	return &preset.Drive{Gain: preset.Decibels(v.Number)}
}

// A flowBuilder draws the lines of a setting one after the other, each after the
// line that it has for its source.
type flowBuilder struct {
	device  *profiles.Device
	setting profiles.Setting
	graph   render.Graph
	input   int             // what lines with the input for their source read
	sent    [][]render.Path // what a line gives to others that have it for their source
	drawn   []bool
}

func (b *flowBuilder) node(n render.Node) int {
	b.graph.Nodes = append(b.graph.Nodes, n)
	return len(b.graph.Nodes) - 1
}

// line draws a line, and before it its source.
func (b *flowBuilder) line(i int) error {
	if b.drawn[i] {
		return nil
	}
	b.drawn[i] = true // sources do not run in a circle
	l := b.device.Lines[i]
	from := []render.Path{{From: b.input, Gain: 1}}
	if k := b.source(l); k != profiles.None {
		if err := b.line(k); err != nil {
			return err
		}
		from = b.sent[k]
	}
	taps, err := b.taps(l)
	if err != nil || len(taps) == 0 {
		return err
	}
	in := preset.Millis(0)
	if !l.Tapped() { // its node is what its one tap reads
		in = taps[0].delay
	}
	n := render.Node{}
	for _, p := range from {
		n.From = append(n.From, render.Path{From: p.From, Delay: p.Delay + in, Gain: p.Gain})
	}
	b.sent[i] = b.memory(l, n, taps)
	return nil
}

// A tapFlow is a tap that is switched on.
type tapFlow struct {
	delay preset.Millis
	heard float64 // its amplitude at the output, before the mix
	back  float64 // its part in the loop; 0 where it is not fed back
}

func (b *flowBuilder) taps(l profiles.Line) ([]tapFlow, error) {
	var all []tapFlow
	d, s := b.device, b.setting
	fed, feedback := d.FeedbackTap(l, s), d.Feedback(l, s)
	for k, t := range l.Taps {
		delay, on, err := d.Delay(t, s)
		if err != nil {
			return nil, fmt.Errorf("line %q: %w", l.Name, err)
		}
		if !on {
			continue
		}
		f := tapFlow{delay: delay, heard: d.Heard(l, t, s)}
		if l.Loop.From == profiles.LoopSum || !l.Tapped() || k == fed {
			f.back = feedback
			if l.Loop.After {
				f.back *= tapGain(d, t, s)
			}
		}
		all = append(all, f)
	}
	return all, nil
}

// memory adds the node of a line, and one more where its cuts stand in the loop or
// at the output alone. What the taps give is heard; what others get of it is
// returned.
func (b *flowBuilder) memory(l profiles.Line, n render.Node, taps []tapFlow) (sent []render.Path) {
	d, s := b.device, b.setting
	at := len(b.graph.Nodes)
	loop, out := at, at
	tone := d.Tone(l, s)
	switch {
	case l.Loop.Tone == profiles.ToneMemory || tone == (preset.Tone{}):
		n.Tone = tone
	case l.Loop.Tone == profiles.ToneLoop:
		loop = at + 1
	default:
		out = at + 1
	}
	for _, t := range taps {
		if t.back != 0 {
			n.From = append(n.From, render.Path{From: loop, Delay: t.delay, Gain: t.back})
		}
	}
	b.node(n)
	if loop != out {
		b.node(render.Node{From: []render.Path{{From: at, Gain: 1}}, Tone: tone})
	}
	mix := d.Mix(s)
	for _, t := range taps {
		p := render.Path{From: out, Delay: t.delay, Gain: t.heard}
		if !l.Tapped() {
			p.Delay = 0
		}
		b.graph.Heard = append(b.graph.Heard, render.Path{From: p.From, Delay: p.Delay, Gain: p.Gain * mix})
		if !l.Tapped() { // others get the line before its level
			p.Gain = 1
		}
		sent = append(sent, p)
	}
	return sent
}

// source is the index of the line that a line has for its source, None for the
// input.
func (b *flowBuilder) source(l profiles.Line) int {
	i := l.Parameter(profiles.RoleSource)
	if i == profiles.None {
		return profiles.None
	}
	word := b.device.Parameters[i].Scale.Value(b.setting.Codes[i]).Word
	for k, other := range b.device.Lines {
		if other.Name == word {
			return k
		}
	}
	return profiles.None
}

// tapGain is a tap's own level and polarity, its line's left out.
func tapGain(d *profiles.Device, t profiles.Tap, s profiles.Setting) float64 {
	a := d.Amplitude(t.Parameter(profiles.RoleLevel), s)
	if i := t.Parameter(profiles.RolePolarity); i != profiles.None && d.Parameters[i].Scale.Value(s.Codes[i]).Word == profiles.WordInverted {
		return -a
	}
	return a
}
