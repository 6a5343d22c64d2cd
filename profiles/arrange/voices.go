package arrange

import (
	"cmp"
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

// How much is looked at: the strongest loops, the loudest heads for each line,
// and voices in all.
const (
	mostLoops        = 3
	mostHeadsPerLine = 3
	mostVoices       = 160
)

// A cast collects voices.
type cast struct {
	deck   *deck
	wish   *wish
	taps   []preset.Tap // sorted by time
	voices []voice
}

// voices is every use of a line that may help: see the package comment. A voice
// comes after those it needs.
func (k *deck) voices(w *wish) []voice {
	c := &cast{deck: k, wish: w, taps: w.loudest(mostHeadsPerLine * len(k.device.Lines))}
	first := make([]int, len(c.taps))
	for i, t := range c.taps {
		first[i] = c.chain(none, t.Delay, 0, voice{first: t.Delay, timbre: timbreOf(t.Tone), inverted: t.Inverted})
	}
	c.farther(first)
	loops := w.returns[:min(mostLoops, len(w.returns))]
	for _, r := range loops {
		c.repeats(r, first)
	}
	if len(loops) > 1 {
		c.crossed(loops)
	}
	c.alone(loops)
	c.draw()
	return c.voices
}

// loudest is the n loudest taps, sorted by time.
func (w *wish) loudest(n int) []preset.Tap {
	taps := slices.Clone(w.taps)
	slices.SortStableFunc(taps, func(a, b preset.Tap) int { return cmp.Compare(b.Level, a.Level) })
	taps = taps[:min(n, len(taps))]
	slices.SortStableFunc(taps, func(a, b preset.Tap) int { return cmp.Compare(a.Delay, b.Delay) })
	return taps
}

// farther adds heads beyond the longest line, reached from other heads' lines.
func (c *cast) farther(first []int) {
	for i, t := range c.taps {
		if t.Delay <= c.deck.longest {
			continue
		}
		for j, before := range c.taps[:i] {
			c.chain(first[j], t.Delay-before.Delay, 0, voice{first: t.Delay, timbre: timbreOf(t.Tone), inverted: t.Inverted})
		}
	}
}

// repeats adds what one way round the loop needs: the loop fed from the input or
// from the first head's line, and from there the repeats of every head.
func (c *cast) repeats(r preset.Return, first []int) {
	fromInput := c.loop(r)
	if fromInput == unreachable {
		c.unrolled(r)
		return
	}
	c.followers(r, fromInput, 0)
	c.mended(r, fromInput)
	if a := c.taps[0]; first[0] != unreachable {
		fromHead := c.chain(first[0], r.Delay, r.Gain.Amplitude(), voice{
			first: a.Delay + r.Delay, timbre: timbreOf(a.Tone).plus(timbreOf(r.Tone)), inverted: a.Inverted != r.Inverted,
		})
		c.followers(r, fromHead, a.Delay)
	}
	if r.Inverted {
		c.alternating(r)
	}
}

// loop adds the loop fed from the input, which is also what its head plays.
func (c *cast) loop(r preset.Return) int {
	fed, _ := c.wish.heard(r.Head)
	return c.chain(none, r.Delay, r.Gain.Amplitude(), voice{first: r.Delay, timbre: timbreOf(r.Tone), inverted: fed.Inverted})
}

// followers adds, for each head, its repeats and, if it is late enough, its first
// echo with them, from a loop that plays at base + n·delay.
func (c *cast) followers(r preset.Return, loop int, base preset.Millis) {
	for _, t := range c.taps {
		tone := timbreOf(t.Tone)
		if t.Head != r.Head || base > 0 {
			c.chain(loop, t.Delay-base, 0, voice{
				first: t.Delay + r.Delay, timbre: tone.plus(timbreOf(r.Tone)), inverted: t.Inverted != r.Inverted,
			})
		}
		c.chain(loop, t.Delay-r.Delay-base, 0, voice{first: t.Delay, timbre: tone, inverted: t.Inverted})
	}
}

// mended adds lines that repeat a head's repeats once more, for a feedback too
// coarse to meet the loop gain.
func (c *cast) mended(r preset.Return, loop int) {
	for _, t := range c.taps {
		v := voice{
			first: t.Delay + r.Delay, timbre: timbreOf(t.Tone).plus(timbreOf(r.Tone)), inverted: t.Inverted != r.Inverted, makeshift: true,
		}
		c.chain(loop, t.Delay, 0, v)
		c.chain(loop, t.Delay, c.wish.loopLimit(t.Delay), v)
	}
}

// unrolled adds the first repeats of a loop longer than any line.
func (c *cast) unrolled(r preset.Return) {
	tone := timbreOf(r.Tone)
	turn := c.chain(none, r.Delay, 0, voice{first: r.Delay, timbre: tone, inverted: r.Inverted})
	repeats := make([]int, len(c.taps))
	for i, t := range c.taps {
		v := voice{first: r.Delay + t.Delay, timbre: timbreOf(t.Tone).plus(tone), inverted: t.Inverted != r.Inverted}
		repeats[i] = c.chain(turn, t.Delay, 0, v)
		for j, before := range c.taps[:i] {
			c.chain(repeats[j], t.Delay-before.Delay, 0, v)
		}
	}
}

// alternating adds what a loop that turns the sign needs from lines whose
// feedback cannot: with E = z²/(1 − g²·z²), a line of twice the length,
//
//	1/(1 + g·z) = (1 − g·z)·(1 + g²·E)
//
// so that a head has its first echo and its first repeat from the input and all
// further ones from E, those of either sign on a line of their own.
func (c *cast) alternating(r preset.Return) {
	gain, tone := r.Gain.Amplitude(), timbreOf(r.Tone)
	twice := tone.plus(tone)
	fed, _ := c.wish.heard(r.Head)
	even := c.chain(none, 2*r.Delay, gain*gain, voice{
		first: 2 * r.Delay, timbre: twice, inverted: !fed.Inverted,
	})
	for _, t := range c.taps {
		own := timbreOf(t.Tone)
		c.chain(none, t.Delay+r.Delay, 0, voice{first: t.Delay + r.Delay, timbre: own.plus(tone), inverted: !t.Inverted})
		for turn := range 4 {
			v := voice{first: t.Delay + preset.Millis(turn)*r.Delay, inverted: t.Inverted != (turn%2 == 1), timbre: own}
			for range turn {
				v.timbre = v.timbre.plus(tone)
			}
			c.chain(even, v.first-2*r.Delay, 0, v)
		}
	}
}

// crossed adds loops behind loops: the echoes that went round by two ways. The
// numbers of ways round come out right for the first of them only.
func (c *cast) crossed(loops []preset.Return) {
	for _, a := range loops {
		one := c.loop(a)
		for _, b := range loops {
			if a.Head == b.Head {
				continue
			}
			both := timbreOf(a.Tone).plus(timbreOf(b.Tone))
			two := c.chain(one, b.Delay, b.Gain.Amplitude(), voice{first: a.Delay + b.Delay, timbre: both, inverted: a.Inverted != b.Inverted})
			for _, t := range c.taps {
				c.chain(two, t.Delay, 0, voice{
					first: a.Delay + b.Delay + t.Delay, timbre: both.plus(timbreOf(t.Tone)), inverted: t.Inverted != (a.Inverted != b.Inverted),
				})
			}
		}
	}
}

// alone adds each head as a line that repeats itself: not what the unit does, but
// the most that one line can do for a head where lines are short.
func (c *cast) alone(loops []preset.Return) {
	if len(loops) == 0 {
		return
	}
	for _, t := range c.taps {
		gain := c.wish.loopLimit(t.Delay)
		c.chain(none, t.Delay, gain, voice{first: t.Delay, timbre: timbreOf(t.Tone), inverted: t.Inverted, makeshift: true})
	}
}

// chain adds a voice behind source, delay after it, over silent lines on the way
// where one line is too short. It gives the voice's place, also where that voice
// was there before.
func (c *cast) chain(source int, delay preset.Millis, loop float64, v voice) int {
	k := c.deck
	lines := int(math.Ceil(float64(delay / k.longest)))
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
	v.time = k.time.Nearest(float64(v.first - source.at))
	v.at = source.at + preset.Millis(k.time.Value(v.time).Number)
	missing := v.timbre.minus(source.given)
	v.cut = k.nearestCut(missing)
	if v.loop > 0 {
		if l, ok := k.nearestLoop(missing, v.loop); ok {
			v.cut, v.ideal, v.gain, v.feedback = l.cut, v.loop, l.gain, l.code
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
