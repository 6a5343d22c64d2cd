package profiles

import (
	"fmt"

	"echowright/preset"
)

// Network is the signal flow that the setting makes, at 1 kHz. Node 0 is the
// input. For every line, with T what its cuts leave and f its feedback,
//
//	its own single tap:  y(t) = T·(x_s(t − d) + f·y(t − d)),  heard at level · polarity
//	taps on one memory:  m(t) = T·(x_s(t) + f·r(t)),  heard Σ level_i·polarity_i·m(t − d_i)
//
// where r is one tap or the sum of all, before or after their levels, and T may
// stand in the loop or at the output instead of at the input ([Loop]). Node n+1
// is y of line n, or m of a line with taps. What another line has for its source
// is y, or the sum of the taps as they are heard. The mix multiplies all that is
// heard. The error says which sources run in a circle, or that a time follows
// the MIDI clock ([ErrClock]). The setting must pass Check.
func (d *Device) Network(s Setting) (preset.Network, error) {
	if err := d.checkCircle(s); err != nil {
		return preset.Network{}, err
	}
	flows := make([]flow, len(d.Lines))
	for i, l := range d.Lines {
		var err error
		if flows[i], err = d.flow(l, s); err != nil {
			return preset.Network{}, fmt.Errorf("line %q: %w", l.Name, err)
		}
	}
	n := preset.Network{Nodes: 1 + len(d.Lines)}
	mix := d.Mix(s)
	for i, l := range d.Lines {
		source, err := d.sourceNode(l, s)
		if err != nil {
			return preset.Network{}, err
		}
		from := []branch{{gain: 1}}
		if source > 0 {
			from = flows[source-1].sent
		}
		for _, b := range from {
			n.Paths = addPath(n.Paths, source, i+1, b.delay+flows[i].in.delay, b.gain*flows[i].in.gain)
		}
		for _, b := range flows[i].back {
			n.Paths = addPath(n.Paths, i+1, i+1, b.delay, b.gain)
		}
		for _, b := range flows[i].heard {
			n.Paths = addPath(n.Paths, i+1, preset.Output, b.delay, b.gain*mix)
		}
	}
	return n, nil
}

func addPath(paths []preset.Path, from, to int, delay preset.Millis, gain float64) []preset.Path {
	if gain == 0 {
		return paths
	}
	return append(paths, preset.Path{From: from, To: to, Delay: delay, Gain: gain})
}

// A branch is one way from, to or round a line's node.
type branch struct {
	delay preset.Millis
	gain  float64
}

// A flow is what surrounds a line's node: the way in, the ways back to it, the
// ways to the output and those to lines that have it for their source.
type flow struct {
	in                branch
	back, heard, sent []branch
}

func (d *Device) flow(l Line, s Setting) (flow, error) {
	in, loop, out := d.passed(l, s)
	feedback := d.Feedback(l, s) * loop
	if !l.named {
		return d.singleFlow(l, s, branch{gain: in}, feedback, out)
	}
	f := flow{in: branch{gain: in}}
	fed := d.FeedbackTap(l, s)
	for k, t := range l.Taps {
		delay, ok, err := d.Delay(t, s)
		if err != nil {
			return flow{}, err
		}
		if !ok {
			continue // switched off: neither heard nor fed back
		}
		heard := branch{delay, d.Heard(l, t, s) * out}
		f.heard, f.sent = append(f.heard, heard), append(f.sent, heard)
		if l.Loop.From == LoopSum || k == fed {
			back := branch{delay, feedback}
			if l.Loop.After {
				back.gain *= d.tapGain(t, s)
			}
			f.back = append(f.back, back)
		}
	}
	return f, nil
}

// singleFlow is that of a line which is its own single tap: the node is what the
// tap reads.
func (d *Device) singleFlow(l Line, s Setting, in branch, feedback, out float64) (flow, error) {
	delay, ok, err := d.Delay(l.Taps[0], s)
	if err != nil || !ok {
		return flow{}, err
	}
	in.delay = delay
	heard := d.tapGain(l.Taps[0], s)
	if l.Loop.After {
		feedback *= heard
	}
	return flow{
		in: in, back: []branch{{delay, feedback}},
		heard: []branch{{0, heard * out}}, sent: []branch{{0, out}},
	}, nil
}

// passed is what the line's cuts leave at 1 kHz of what enters the memory, of
// what is fed back, and of what is heard.
func (d *Device) passed(l Line, s Setting) (in, loop, out float64) {
	left := d.Tone(l, s).Magnitude(preset.Reference)
	switch l.Loop.Tone {
	case ToneLoop:
		return 1, left, 1
	case ToneOutput:
		return 1, 1, left
	}
	return left, left, 1
}
