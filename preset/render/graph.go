package render

import (
	"fmt"
	"math"

	"echowright/preset"
)

// Input stands for what is rendered where a path says where it comes from.
const Input = -1

// A Graph is a signal flow of memories. Nodes stand in the order of the sound: a
// path from a node to itself or to an earlier one is a loop.
type Graph struct {
	Nodes []Node
	Heard []Path // all that reaches the output, the direct sound too
	// Motion moves every path that has a delay; nil for a carrier that runs evenly.
	Motion *preset.Motion
}

// A Node is a memory: the sum of its paths goes through drive and tone into it.
type Node struct {
	From  []Path
	Drive *preset.Drive // nil for none
	Tone  preset.Tone
	// Levelled says that the tone takes nothing at [preset.Reference], since the
	// levels of the paths contain it already, as those of a unit do.
	Levelled bool
}

// A Path is what is read of a node, or of the [Input], Delay later and times Gain
// (an amplitude ratio with sign).
type Path struct {
	From  int
	Delay preset.Millis
	Gain  float64
}

// MostNodes a graph may have.
const MostNodes = 1024

func (g Graph) check() error {
	if len(g.Nodes) > MostNodes {
		return fmt.Errorf("%d nodes: %d at most", len(g.Nodes), MostNodes)
	}
	for i, n := range g.Nodes {
		if err := n.check(len(g.Nodes)); err != nil {
			return fmt.Errorf("node %d: %w", i, err)
		}
	}
	for _, p := range g.Heard {
		if err := p.check(len(g.Nodes)); err != nil {
			return fmt.Errorf("output: %w", err)
		}
	}
	if m := g.Motion; m != nil {
		return checkMotion(*m)
	}
	return nil
}

func (n Node) check(nodes int) error {
	for _, p := range n.From {
		if err := p.check(nodes); err != nil {
			return err
		}
	}
	for _, f := range []preset.Hertz{n.Tone.LowCut, n.Tone.HighCut} {
		if !(f >= 0 && !math.IsInf(float64(f), 0)) {
			return fmt.Errorf("a cut at %v: 0 or more", f)
		}
	}
	if d := n.Drive; d != nil && !(math.Abs(float64(d.Gain)) <= 60 && math.Abs(d.Bias) <= 2) {
		return fmt.Errorf("drive of %v with bias %v: from -60 to 60 dB, bias from -2 to 2", d.Gain, d.Bias)
	}
	return nil
}

func (p Path) check(nodes int) error {
	switch {
	case p.From < Input || p.From >= nodes:
		return fmt.Errorf("a path from node %d: nodes run from 0 to %d, the input is %d", p.From, nodes-1, Input)
	case !(p.Delay >= 0 && p.Delay <= preset.MaxDelay):
		return fmt.Errorf("a delay of %v: from 0 to %v", p.Delay, preset.MaxDelay)
	case !(math.Abs(p.Gain) <= math.MaxFloat32):
		return fmt.Errorf("a gain of %v", p.Gain)
	}
	return nil
}

func checkMotion(m preset.Motion) error {
	for _, w := range []struct {
		what  string
		depth preset.Percent
		rate  preset.Hertz
	}{{"wow", m.WowPercent, m.WowHz}, {"flutter", m.FlutterPercent, m.FlutterHz}} {
		if !(w.depth >= 0 && w.depth <= mostSway*100/2 && w.rate >= 0 && w.rate <= 1000) {
			return fmt.Errorf("%s of %v at %v: up to %v %% and 1000 Hz can be rendered", w.what, w.depth, w.rate, mostSway*100/2)
		}
	}
	return nil
}

// LoopGain is the greatest gain that a turn of a loop may have at any frequency,
// all its ways added up as if they came round in phase; −Inf where nothing comes
// back. At 0 dB or more the graph may howl.
//
// A loop is closed by the paths that go back, so each node that has such paths is
// followed once round: what it puts out, as strong as its tone and drive let
// anything pass, and what of that comes back to it.
func (g Graph) LoopGain(rate preset.Hertz) preset.Decibels {
	most := 0.0
	for i, n := range g.Nodes {
		out := make([]float64, len(g.Nodes))
		out[i] = n.peak(float64(rate))
		for j := i + 1; j < len(g.Nodes); j++ {
			for _, p := range g.Nodes[j].From {
				if p.From >= i && p.From < j {
					out[j] += math.Abs(p.Gain) * out[p.From] * g.Nodes[j].peak(float64(rate))
				}
			}
		}
		back := 0.0
		for _, p := range n.From {
			if p.From >= i {
				back += math.Abs(p.Gain) * out[p.From]
			}
		}
		most = max(most, back)
	}
	return preset.FromAmplitude(most)
}

// peak is the greatest gain of a node at any frequency.
func (n Node) peak(rate float64) float64 {
	f := newFilter(n.Tone, n.Levelled, rate)
	p := f.peak()
	if n.Drive != nil {
		t := math.Tanh(n.Drive.Bias)
		p /= 1 - t*t // the slope at its steepest, where the bias is made up for
	}
	return p
}
