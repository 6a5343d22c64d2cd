// Package render turns a dry take into what a measured unit, or a device set to
// imitate it, makes of it: echoes at fractional delays with their polarity, the
// loop with its tone a turn, drive, wow and flutter, noise.
//
// Sound goes through in blocks of any size; memory holds the longest delay and no
// more, however long the take is. The same [Graph] and the same seed give the same
// sound.
//
// # The model
//
// It is the one that preset/measure fits, the other way round: what comes in and
// what the heads feed back goes through drive and tone into the memory, and the
// heads read it, moved by wow and flutter. Levels and loop gain are at
// [preset.Reference] and contain the tone once, so the tone is levelled to take
// nothing there. Delays are those of the memory alone.
//
// A newcomer starts with graph.go (what is rendered), pattern.go (a unit as such a
// graph), then schedule.go (in which order, how much at a time), memory.go and
// kernel.go (reading between samples), tone.go, drive.go and motion.go.
package render

import (
	"fmt"
	"math"
	"math/rand/v2"

	"echowright/preset"
)

// Options of a rendering.
type Options struct {
	Rate     preset.Hertz // of the take, 8 to 192 kHz
	Channels int          // 1 or more: each has a memory of its own, the carrier is one
	Seed     uint64       // decides where in their turn wow and flutter begin, and the noise
	// Noise is the level (RMS, dB re full scale) of white noise that is added to the
	// output; nil for none.
	Noise *preset.Decibels
}

// Limits of the options.
const (
	MinRate     = 8_000
	MaxRate     = 192_000
	MaxChannels = 64
)

// A Renderer plays takes block by block. Make it with [New].
type Renderer struct {
	plan     plan
	carrier  carrier
	noise    float64
	channels []*channel
	at       int // samples that came in so far
}

// New makes a renderer. The error says what is wrong with the options, or which
// path of the graph cannot be rendered at the rate.
func New(g Graph, o Options) (*Renderer, error) {
	switch {
	case !(o.Rate >= MinRate && o.Rate <= MaxRate):
		return nil, fmt.Errorf("a sample rate of %v: from %d to %d Hz", o.Rate, MinRate, MaxRate)
	case o.Channels < 1 || o.Channels > MaxChannels:
		return nil, fmt.Errorf("%d channels: 1 to %d", o.Channels, MaxChannels)
	case o.Noise != nil && !(*o.Noise <= 0):
		return nil, fmt.Errorf("noise of %v: 0 dB, full scale, at the most", *o.Noise)
	}
	if err := g.check(); err != nil {
		return nil, err
	}
	rate := float64(o.Rate)
	r := &Renderer{carrier: newCarrier(g.Motion, rate, rand.New(rand.NewPCG(o.Seed, 1)))}
	var err error
	if r.plan, err = newPlan(g, rate, r.carrier.sway()); err != nil {
		return nil, err
	}
	if o.Noise != nil {
		r.noise = o.Noise.Amplitude()
	}
	for c := range o.Channels {
		r.channels = append(r.channels, newChannel(&r.plan, rand.New(rand.NewPCG(o.Seed, uint64(c)+2))))
	}
	return r, nil
}

// Latency is how many samples the output comes after the input: 0 for nearly every
// graph, a few dozen where an echo is shorter than what reading between samples and
// drive need to see ahead.
func (r *Renderer) Latency() int { return r.plan.latency }

// Howls reports whether a turn of a loop may come back as strong as it went, at any
// frequency. What is fed back is then held at full scale.
func (r *Renderer) Howls() bool { return r.plan.howls }

// Limited is how many samples so far had to be held at full scale.
func (r *Renderer) Limited() int {
	n := 0
	for _, c := range r.channels {
		n += c.limited
	}
	return n
}

// Process renders the next block: a slice a channel, all of one length, in
// fractions of full scale. Out may be in. An error is about the shape of the
// blocks, or a sample that is no number; what is rendered after it is worthless.
func (r *Renderer) Process(out, in [][]float64) error {
	if err := r.checkBlocks(out, in); err != nil {
		return err
	}
	frames := len(in[0])
	for from := 0; from < frames; from += r.plan.block {
		to := min(frames, from+r.plan.block)
		r.carrier.place(&r.plan, r.at, to-from)
		for c, ch := range r.channels {
			ch.play(&r.plan, out[c][from:to], in[c][from:to], r.at, r.noise)
		}
		r.at += to - from
	}
	return nil
}

func (r *Renderer) checkBlocks(out, in [][]float64) error {
	if len(in) != len(r.channels) || len(out) != len(r.channels) {
		return fmt.Errorf("rendering %d channels into %d, where %d were announced", len(in), len(out), len(r.channels))
	}
	for c := range in {
		if len(in[c]) != len(in[0]) || len(out[c]) != len(in[0]) {
			return fmt.Errorf("rendering %d samples of channel %d into %d, %d of channel 1: all of one length", len(in[c]), c+1, len(out[c]), len(in[0]))
		}
		for i, v := range in[c] {
			if v-v != 0 { // nan and inf, and nothing else
				return fmt.Errorf("sample %d of channel %d is %v, which is no sound", r.at+i+1, c+1, v)
			}
		}
	}
	return nil
}

// A channel is the state of one channel of sound.
type channel struct {
	stations []station // the input, then the nodes
	room     []float64
	random   *rand.Rand
	limited  int
}

// A station is a node with its sound.
type station struct {
	memory memory
	filter filter
	drive  *drive
}

func newChannel(p *plan, random *rand.Rand) *channel {
	c := &channel{room: make([]float64, p.block), random: random}
	for _, s := range p.stops {
		st := station{memory: newMemory(s.reach, s.lag, s.between, p.leaps), filter: s.filter}
		if s.curve != nil {
			st.drive = newDrive(s.curve)
		}
		c.stations = append(c.stations, st)
	}
	return c
}

// play renders a block of the plan's size at most, of which the first sample is
// number at of the take.
func (c *channel) play(p *plan, out, in []float64, at int, noise float64) {
	c.stations[0].memory.write(in)
	sum := c.room[:len(in)]
	for i := 1; i < len(p.stops); i++ {
		s, st := &p.stops[i], &c.stations[i]
		clear(sum)
		for k := range s.back {
			c.read(sum, &s.back[k], at-s.lagIn)
		}
		if p.howls {
			c.limited += limit(sum)
		}
		for k := range s.forward {
			c.read(sum, &s.forward[k], at-s.lagIn)
		}
		if st.drive != nil {
			st.drive.process(sum)
		}
		st.filter.process(sum)
		st.memory.write(sum)
	}
	clear(sum)
	for k := range p.heard {
		c.read(sum, &p.heard[k], at-p.latency)
	}
	if noise > 0 {
		for i := range sum {
			sum[i] += noise * c.random.NormFloat64()
		}
	}
	copy(out, sum)
}

func (c *channel) read(sum []float64, v *voice, at int) { c.stations[v.from].memory.add(sum, v, at) }

// limit holds sound at full scale and counts how often it had to.
func limit(x []float64) int {
	n := 0
	for i, v := range x {
		if v > 1 || v < -1 {
			x[i] = math.Copysign(1, v)
			n++
		}
	}
	return n
}
