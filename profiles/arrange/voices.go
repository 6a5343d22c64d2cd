package arrange

import (
	"cmp"
	"slices"

	"echowright/preset"
)

// How much is looked at: the strongest loops, the loudest heads for each line,
// and voices in all.
const (
	mostLoops        = 3
	mostHeadsPerLine = 3
	mostVoices       = 160
)

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
	c.alone(first, loops)
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
		c.chain(loop, t.Delay, c.wish.loopLimit(), v)
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

// alone adds each head as a line that repeats itself, and later heads behind it:
// not what the unit does, but the most that few lines can do for many heads.
func (c *cast) alone(first []int, loops []preset.Return) {
	if len(loops) == 0 {
		return
	}
	few := c.wish.loudest(len(c.deck.device.Lines) + 2)
	for i, t := range c.taps {
		own := c.chain(none, t.Delay, c.wish.loopLimit(), voice{
			first: t.Delay, timbre: timbreOf(t.Tone), inverted: t.Inverted, makeshift: true,
		})
		for _, later := range c.taps[i+1:] {
			if !among(few, t) || !among(few, later) {
				continue
			}
			apart := later.Delay - t.Delay
			v := voice{first: later.Delay, timbre: timbreOf(later.Tone), inverted: later.Inverted, makeshift: true}
			c.chain(own, apart, 0, v)
			c.chain(own, apart, c.wish.loopLimit(), v)
			c.chain(first[i], apart, c.wish.loopLimit(), v)
		}
	}
}

func among(taps []preset.Tap, t preset.Tap) bool {
	return slices.ContainsFunc(taps, func(u preset.Tap) bool { return u.Head == t.Head })
}
