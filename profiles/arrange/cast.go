package arrange

import (
	"math"
	"slices"

	"echowright/preset"
)

// A voice is one use that a line can be put to: what is wanted of it, and what
// the device makes of that behind the voice's source.
type voice struct {
	source    int           // the voice it takes its sound from, none for the input
	first     preset.Millis // when its first echo should come
	timbre    timbre        // that its first echo should have
	loop      float64       // the limit of its loop gain at 1 kHz, an amplitude ratio; 0: no loop
	inverted  bool          // its first echo has the other sign
	makeshift bool          // nothing in the unit is like it
	needs     []int         // the voices it cannot do without, in order, itself the last

	time     int           // code
	feedback int           // code, if gain is not 0
	ideal    float64       // its loop gain without rounding; 0 if it cannot have a loop
	gain     float64       // its loop gain at 1 kHz, an amplitude ratio
	cut      cut           // its own
	at       preset.Millis // when its first echo comes
	given    timbre        // that its first echo has
	left     float64       // of the first echo's amplitude at 1 kHz, before the level
	wanted   []float64     // its train before rounding, drawn without sign, the first echo 0 dB
	curve    []float64     // the same as the device rounds it
}

// none stands for the input where a voice names its source.
const none = -1

// unreachable is a voice that the device does not have.
const unreachable = -2

// A cast collects voices.
type cast struct {
	deck   *deck
	wish   *wish
	taps   []preset.Tap // sorted by time
	voices []voice
}

// chain adds a voice behind source, delay after it, over silent lines on the way
// where one line is too short. It gives the voice's place, also where that voice
// was there before.
func (c *cast) chain(source int, delay preset.Millis, loop float64, v voice) int {
	k := c.deck
	lines := int(math.Ceil(float64(delay / k.longest)))
	if !k.sources && delay-k.longest <= preset.TimingJND(delay) {
		lines = 1 // as long as a line can be is hardly heard to be too short
	}
	switch {
	case source == unreachable || !(delay > 0):
		return unreachable
	case source != none && !k.sources, lines > 1 && (!k.sources || loop > 0):
		return unreachable
	case loop > 0 && k.feedback == nil:
		return unreachable
	case lines > len(k.device.Lines):
		return unreachable
	}
	step := delay / preset.Millis(lines)
	for i := lines - 1; i > 0; i-- {
		between := voice{source: source, first: v.first - preset.Millis(i)*step, timbre: c.behind(source).given, inverted: v.inverted}
		if source = c.add(between); source == unreachable {
			return unreachable
		}
	}
	v.source, v.loop = source, loop
	return c.add(v)
}

// behind is the voice that sounds at a source; for the input one that loses nothing.
func (c *cast) behind(source int) voice {
	if source == none {
		return voice{left: 1}
	}
	return c.voices[source]
}

func (c *cast) add(v voice) int {
	at := slices.IndexFunc(c.voices, v.same)
	if at >= 0 {
		return at
	}
	if len(c.voices) == mostVoices {
		return unreachable
	}
	at = len(c.voices)
	source := c.behind(v.source)
	v.needs = append(slices.Clone(source.needs), at)
	c.voices = append(c.voices, c.deck.play(v, source))
	return at
}

// same reports whether another voice is wanted for the same.
func (v voice) same(w voice) bool {
	const together = 1e-6
	return v.source == w.source && v.loop == w.loop && v.inverted == w.inverted &&
		math.Abs(float64(v.first-w.first)) < together && v.timbre == w.timbre
}

// play puts a voice into codes, all but its level. The time is what is missing to
// the first echo after the source has been rounded, and the tone likewise.
func (k *deck) play(v, source voice) voice {
	time := k.time[k.time.nearest(float64(v.first-source.at))]
	v.time = time.code
	v.at = source.at + preset.Millis(time.value)
	missing := v.timbre.minus(source.given)
	v.cut = k.nearestCut(missing)
	if v.loop > 0 {
		if all := k.loops(missing, v.loop); len(all) > 0 {
			v.cut, v.ideal, v.gain, v.feedback = all[0].cut, v.loop, all[0].gain, all[0].code
		}
	}
	v.given = source.given.plus(v.cut.timbre)
	v.left = source.left * v.cut.left
	return v
}

// draw works out the trains of every voice.
func (c *cast) draw() {
	for i := range c.voices {
		v := &c.voices[i]
		v.wanted = c.curve(*v, func(v voice) (preset.Millis, float64) { return v.first, v.ideal })
		v.curve = c.curve(*v, func(v voice) (preset.Millis, float64) { return v.at, v.gain })
	}
}

// curve draws the train of a voice, nothing lost on the way but in the loops.
func (c *cast) curve(v voice, of func(voice) (first preset.Millis, gain float64)) []float64 {
	n := preset.Network{Nodes: 1 + len(v.needs)}
	before := preset.Millis(0)
	for i, at := range v.needs {
		first, gain := of(c.voices[at])
		delay := max(0, first-before)
		before = first
		n.Paths = append(n.Paths, preset.Path{From: i, To: i + 1, Delay: delay, Gain: 1})
		if gain > 0 {
			n.Paths = append(n.Paths, preset.Path{From: i + 1, To: i + 1, Delay: delay, Gain: gain})
		}
	}
	n.Paths = append(n.Paths, preset.Path{From: len(v.needs), To: preset.Output, Gain: 1})
	train, err := n.Train(preset.TrainFloor, c.wish.limit)
	if err != nil {
		train = nil // too dense to list: of no use
	}
	return c.wish.sheet.draw(train, false)
}
