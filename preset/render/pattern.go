package render

import (
	"slices"

	"echowright/preset"
)

// A Machine is a unit to be rendered: what is heard of it, and what is not in its
// pattern.
type Machine struct {
	Pattern preset.Pattern
	Drive   *preset.Drive
	Motion  *preset.Motion
	Direct  float64 // amplitude of the direct sound in the output, 0 for the echoes alone
}

// Graph is the machine as a signal flow: a memory for each tone that its heads
// have, mostly one. With several, the input and what is fed back meet in a node of
// their own, where the drive is, and every memory gets the sum of it. Where the
// pattern does not say how far the echoes lie below the direct sound, the loudest
// head is as loud as that.
func (m Machine) Graph() Graph {
	tones := m.tones()
	first := 1
	g := Graph{Motion: m.Motion}
	if len(tones) == 1 {
		first = 0
	} else {
		g.Nodes = append(g.Nodes, Node{Drive: m.Drive})
	}
	for _, t := range tones {
		n := Node{Tone: t, Levelled: true}
		if first == 0 {
			n.Drive = m.Drive
		} else {
			n.From = []Path{{From: 0, Gain: 1}}
		}
		g.Nodes = append(g.Nodes, n)
	}
	node := func(t preset.Tone) int { return first + slices.Index(tones, t) }
	g.Nodes[0].From = []Path{{From: Input, Gain: 1}}
	for _, r := range m.Pattern.Returns {
		g.Nodes[0].From = append(g.Nodes[0].From, Path{From: node(r.Tone), Delay: r.Delay, Gain: signed(r.Gain, r.Inverted)})
	}
	if m.Direct != 0 {
		g.Heard = append(g.Heard, Path{From: Input, Gain: m.Direct})
	}
	wet := preset.Decibels(0)
	if m.Pattern.EchoToDirect != nil {
		wet = *m.Pattern.EchoToDirect
	}
	for _, t := range m.Pattern.Taps {
		g.Heard = append(g.Heard, Path{From: node(t.Tone), Delay: t.Delay, Gain: signed(t.Level+wet, t.Inverted)})
	}
	return g
}

// tones are the tones of all heads that are heard or fed back, each once.
func (m Machine) tones() []preset.Tone {
	var all []preset.Tone
	add := func(t preset.Tone) {
		if !slices.Contains(all, t) {
			all = append(all, t)
		}
	}
	for _, t := range m.Pattern.Taps {
		add(t.Tone)
	}
	for _, r := range m.Pattern.Returns {
		add(r.Tone)
	}
	if len(all) == 0 {
		add(preset.Tone{})
	}
	return all
}

func signed(level preset.Decibels, inverted bool) float64 {
	if inverted {
		return -level.Amplitude()
	}
	return level.Amplitude()
}
